package exchange

import "plumbline/sync/entry"

// Session is the conversation with one linked peer. It isn't safe for
// concurrent use; its owner makes one call at a time and carries out the
// actions in order.
type Session struct {
	config Config
}

// Config is what a session needs. Zero values stand for the defaults.
type Config struct {
	Holdings Holdings
	// Claims is shared by the sessions of one laptop, so that it asks only
	// one peer for a log at a time.
	Claims *Claims
	// Wants is how many chunks may be asked for at once (4).
	Wants int
	// Window is how many chunks may be asked for or wait to be stored (16).
	Window int
	// Tips is how many tips of a peer are kept in mind (131,072).
	Tips int
}

// Claims keeps the sessions of one laptop from asking for a log twice.
type Claims struct{}

// New prepares a conversation. Nothing is sent before Open.
func New(config Config) *Session { return &Session{config: config} }

// Open starts the conversation. Call it once, when the link is up.
func (s *Session) Open() []Action { return nil }

// Receive takes the next message of the peer.
func (s *Session) Receive(message []byte) []Action { return nil }

// Changed tells that this laptop has gained entries, from whomever: the new
// tips of the branches that grew. Call it for every session after each
// transaction, and with no tips after another session ended.
func (s *Session) Changed(tips []Tip) []Action { return nil }

// Stored tells the outcome of a Store action.
func (s *Session) Stored(run entry.Run, err error) []Action { return nil }

// Close gives up what the session had claimed. Call it when the link is gone.
func (s *Session) Close() {}

// Behind is how many entries the peer has announced that aren't stored here.
func (s *Session) Behind() uint64 { return 0 }

// Ahead is how many entries are held here that the peer hasn't said to have.
func (s *Session) Ahead() uint64 { return 0 }

// Synced reports whether each has told the other what it holds, and both hold
// the same, but for what one of them refuses.
func (s *Session) Synced() bool { return false }

// Waiting reports whether a chunk was asked for and hasn't come. A caller
// with a clock closes a link that stays like this without a message.
func (s *Session) Waiting() bool { return false }

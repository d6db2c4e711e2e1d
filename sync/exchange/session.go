package exchange

import (
	"errors"
	"fmt"

	"plumbline/sync/entry"
)

// Reasons for which a session ends or turns a log down.
var (
	// ErrTooMany is returned when a peer announces more than is kept in mind.
	ErrTooMany = errors.New("the peer announces too many tips")
	// ErrFull is returned for a tip for which the holdings have no room.
	ErrFull = errors.New("no room for what would only be set aside")
	// ErrAstray is returned when a peer answers with other entries than it
	// was asked for.
	ErrAstray = errors.New("the peer sent other entries than it was asked for")
)

// Session is the conversation with one linked peer. It isn't safe for
// concurrent use: its owner makes one call at a time and carries out the
// actions in order.
type Session struct {
	config Config
	out    []Action
	opened bool
	ended  bool

	// What the peer is known to hold, and the ends of its first lists.
	peer          map[entry.LogID][]known
	controlListed bool
	allListed     bool

	// What this side has told. Logs other than control logs are neither named
	// nor given out before openOthers is set.
	controlLogs map[entry.LogID]struct{}
	openOthers  bool
	unsentTips  []Tip // to be announced at the end of this call
	unsentNo    []Tip // to be declined at the end of this call
	wake        bool  // others are to be woken at the end of this call

	// What is being pulled.
	pulls       map[entry.LogID]*pull
	control     line // of control logs
	others      line
	openControl int // pulls of control logs
	wants       int // chunks asked for
	unstored    int // chunks waiting for Stored
	kept        int // tips kept in pulls and refused
	number      uint64
	refused     map[entry.LogID][]Tip
	distrusted  map[entry.LogID]struct{}
}

// Config is what a session needs. Zero values stand for the defaults.
type Config struct {
	Holdings Holdings
	// Claims is shared by the sessions of one laptop, so that it asks only
	// one peer at a time for a log. Without it a session has its own.
	Claims *Claims
	// Wants is how many chunks may be asked for at once (12).
	Wants int
	// Window is how many chunks may be asked for or wait to be stored (24).
	Window int
	// MaxTips is how many tips of a peer are kept in mind (49,152).
	MaxTips int
}

// New prepares a conversation. Nothing is sent before Open.
func New(config Config) *Session {
	if config.Claims == nil {
		config.Claims = NewClaims()
	}
	config.Wants = orDefault(config.Wants, 12)
	config.Window = orDefault(config.Window, 24)
	config.MaxTips = orDefault(config.MaxTips, 48<<10)
	return &Session{
		config:      config,
		peer:        map[entry.LogID][]known{},
		controlLogs: map[entry.LogID]struct{}{},
		pulls:       map[entry.LogID]*pull{},
		refused:     map[entry.LogID][]Tip{},
		distrusted:  map[entry.LogID]struct{}{},
	}
}

func orDefault(n, otherwise int) int {
	if n <= 0 {
		return otherwise
	}
	return n
}

// Open starts the conversation. Call it once, when the link is up.
func (s *Session) Open() []Action {
	s.opened = true
	s.list(true)
	return s.settle()
}

// Receive takes the next message of the peer. It keeps the message.
func (s *Session) Receive(message []byte) []Action {
	if s.ended {
		return nil
	}
	m, err := decode(message)
	if err != nil {
		return s.fail(err)
	}
	switch m := m.(type) {
	case have:
		s.takeHave(m)
	case want:
		s.takeWant(m)
	case chunk:
		s.takeChunk(m)
	case decline:
		s.takeDecline(m)
	}
	return s.settle()
}

// Changed tells that this laptop has gained entries, from whomever: the new
// tips of the branches that grew. Call it for every session after each
// transaction, and without tips when another session has ended or asks for it
// by Wake: a log may be free to be asked for then.
func (s *Session) Changed(tips []Tip) []Action {
	if s.ended {
		return nil
	}
	control := false
	for _, tip := range tips {
		control = control || tip.Control
		s.offer(tip)
		if p := s.pulls[tip.Log]; p != nil {
			s.finish(p)
		}
	}
	if control {
		s.reconsider()
	}
	return s.settle()
}

// Part tells that the peer is heard no more, since a control entry has cut it. What
// it lacks of the control logs is sent, so that it hears of that, too: it couldn't
// ask. Call it before Changed tells of the entry.
func (s *Session) Part() []Action {
	if s.ended || !s.opened {
		return nil
	}
	s.last()
	return s.flush()
}

// Stored tells the outcome of a Store action, after the entries can be seen
// in the holdings. An error drops the tip that was being pulled.
func (s *Session) Stored(run entry.Run, err error) []Action {
	if s.ended {
		return nil
	}
	s.takeOutcome(run, err)
	return s.settle()
}

// Close gives up what the session had claimed. Call it when the link is gone,
// then call Changed on the other sessions.
func (s *Session) Close() {
	s.ended = true
	for log := range s.pulls {
		s.config.Claims.release(log, s)
	}
}

// Waiting reports whether a chunk was asked for and hasn't come.
func (s *Session) Waiting() bool { return s.wants > 0 && !s.ended }

// Awaits returns the number of the oldest want without an answer, 0 for none. The peer
// answers each, in order, whatever it holds; a caller with a clock closes a link on which
// it stays the same, since its logs aren't asked for elsewhere meanwhile.
func (s *Session) Awaits() (oldest uint64) {
	if !s.Waiting() {
		return 0
	}
	for _, p := range s.pulls {
		if p.asked != 0 && (oldest == 0 || p.asked < oldest) {
			oldest = p.asked
		}
	}
	return oldest
}

// ControlSettled reports whether every control log that the peer announced is
// stored or refused, so that this laptop judges by all that the peer knows.
func (s *Session) ControlSettled() bool { return s.controlSettled() && !s.ended }

func (s *Session) fail(err error) []Action {
	s.emit(Fail{Err: err})
	s.Close()
	return s.flush()
}

func (s *Session) emit(a Action) { s.out = append(s.out, a) }

// settle does what has become possible, and hands out the actions.
func (s *Session) settle() []Action {
	if s.kept > s.config.MaxTips || len(s.peer) > s.config.MaxTips {
		return s.fail(fmt.Errorf("%w: at most %d", ErrTooMany, s.config.MaxTips))
	}
	if !s.ended {
		if s.opened && !s.openOthers && s.controlSettled() {
			s.openOthers = true
			s.list(false)
		}
		s.ask()
		s.sendTips()
		if s.wake {
			s.emit(Wake{})
		}
		s.wake = false
	}
	return s.flush()
}

func (s *Session) flush() []Action {
	out := s.out
	s.out = nil
	return out
}

// controlSettled reports whether every control log that the peer announced is
// stored or refused.
func (s *Session) controlSettled() bool { return s.controlListed && s.openControl == 0 }

package node

import (
	"plumbline/storage"
	"plumbline/sync/entry"
)

// LinkID numbers a link within one process.
type LinkID uint64

// Event is what happens to a laptop: [Tend], [Linked], [Received],
// [Unlinked], [Save] or [Introduced].
type Event interface{ event() }

type (
	// Tend asks to look after the link keys: once links may come, and again a
	// while after each [Failed].
	Tend struct{}
	// Linked tells that another laptop was admitted.
	Linked struct {
		Link   LinkID
		Device entry.DeviceID
	}
	// Received brings one message of a link, in order.
	Received struct {
		Link    LinkID
		Message []byte
	}
	// Unlinked tells that a link is gone.
	Unlinked struct{ Link LinkID }
	// Save asks to write entries of this laptop, all of them or none. With
	// NewLinkKey a new link key is made and announced behind them. Check, if set, is
	// asked before, when nothing can come in any more: its error ends the save.
	Save struct {
		Drafts     []Draft
		NewLinkKey bool
		Check      func() error
	}
	// Introduced brings verified runs of control logs by which a stranger, or
	// the laptop that invites, shows that it belongs to the staff.
	Introduced struct{ Runs []entry.Run }
)

// Draft is an entry that this laptop is about to write. Control bodies go to
// its control log, the rest to its other one.
type Draft struct {
	Record entry.RecordID
	Body   entry.Body
	// Wall is when it was written, in milliseconds since 1970, if that wasn't now:
	// what somebody wrote alone keeps its day.
	Wall int64
}

func (Tend) event()       {}
func (Linked) event()     {}
func (Received) event()   {}
func (Unlinked) event()   {}
func (Save) event()       {}
func (Introduced) event() {}

// Action is what a step asks to be done: [Send], [Refused], [Drop], [Saved],
// [Grown], [Returned] or [Failed].
type Action interface{ action() }

type (
	// Send passes a message to a link, behind those before it.
	Send struct {
		Link    LinkID
		Message []byte
	}
	// Refused tells that entries of a peer aren't taken, and why. The link
	// goes on.
	Refused struct {
		Link LinkID
		Err  error
	}
	// Drop closes a link, and says why.
	Drop struct {
		Link LinkID
		Err  error
	}
	// Saved answers a Save: by then its entries are durable, or nothing is.
	Saved struct {
		IDs []entry.ID
		Err error
	}
	// Grown tells that entries were stored and folded.
	Grown struct{ Outcome storage.Outcome }
	// Returned tells that a peer brought entries of this laptop's own that it had
	// lost, as after a restored backup.
	Returned struct {
		Log     entry.LogID
		Entries int
		From    entry.DeviceID
	}
	// Failed tells what couldn't be done about link keys. The caller lets it be
	// tried again by [Tend], since maybe nothing else ever comes.
	Failed struct{ Err error }
)

func (Send) action()     {}
func (Refused) action()  {}
func (Drop) action()     {}
func (Saved) action()    {}
func (Grown) action()    {}
func (Returned) action() {}
func (Failed) action()   {}

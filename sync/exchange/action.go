package exchange

import "plumbline/sync/entry"

// Action is what a session asks of its caller: [Send], [Store], [Refuse],
// [Wake] or [Fail]. Actions are carried out in the order in which they are returned.
type Action interface{ action() }

type (
	// Send passes a message to the peer, behind those before it.
	Send struct{ Message []byte }
	// Store asks to keep a verified run, runs of one log in order. Its
	// outcome is told to [Session.Stored], once, in any later call.
	Store struct{ Run entry.Run }
	// Refuse tells that this session won't ask for the tip any more, and why.
	// The link goes on.
	Refuse struct {
		Tip Tip
		Err error
	}
	// Wake asks to call [Session.Changed] without tips on the laptop's other
	// sessions: a log that one of them waits for is free again.
	Wake struct{}
	// Fail closes the link: the peer sends what no laptop should.
	Fail struct{ Err error }
)

func (Send) action()   {}
func (Store) action()  {}
func (Refuse) action() {}
func (Wake) action()   {}
func (Fail) action()   {}

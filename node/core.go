package node

import (
	"context"
	"crypto/ed25519"
	"errors"
	"maps"
	"slices"
	"time"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
)

// Ledger is what the core needs of the storage.
type Ledger interface {
	exchange.Holdings
	// Append stores verified runs and folds them in one transaction. When it
	// returns without an error they are durable.
	Append(ctx context.Context, runs ...entry.Run) (storage.Outcome, error)
	// Lamport is the highest Lamport time held.
	Lamport() uint64
	// Verdict is what the control entries held come to. It is another one
	// after each change.
	Verdict() *merge.Verdict
}

// Core is a laptop without its process: a step function over what happens. It
// starts nothing and knows no clock. One caller at a time.
type Core struct {
	ledger Ledger
	own    *OwnLogs
	keys   LinkKeys
	claims *exchange.Claims
	links  map[LinkID]*conversation
	ring   ring

	actions []Action
	todo    []task
	stores  []store
}

// conversation is a link with what was told over it.
type conversation struct {
	*exchange.Session
	device  entry.DeviceID
	settled bool              // its control logs are stored here
	given   map[[32]byte]bool // link keys
}

// task is an action of a session that hasn't been carried out.
type task struct {
	link   LinkID
	action exchange.Action
}

// store is a run that a session wants kept.
type store struct {
	link LinkID
	run  entry.Run
}

// NewCore returns the core of a laptop that is linked to nobody.
func NewCore(ledger Ledger, own *OwnLogs, keys LinkKeys) *Core {
	return &Core{ledger: ledger, own: own, keys: keys, claims: exchange.NewClaims(), links: map[LinkID]*conversation{}}
}

// Step takes what happened, in order, and returns what is to be done, in
// order. What several events bring to be stored is stored in one transaction,
// so that catching up costs few of them.
func (c *Core) Step(ctx context.Context, now time.Time, events ...Event) []Action {
	for _, e := range events {
		c.take(ctx, now, e)
	}
	c.carryOn(ctx)
	for c.tendKeys(ctx, now) {
		c.carryOn(ctx)
	}
	actions := c.actions
	c.actions = nil
	return actions
}

func (c *Core) carryOn(ctx context.Context) {
	for len(c.todo) > 0 || len(c.stores) > 0 {
		c.work(ctx)
	}
}

func (c *Core) take(ctx context.Context, now time.Time, e Event) {
	switch e := e.(type) {
	case Tend:
		c.ring.due = true
	case Linked:
		s := exchange.New(exchange.Config{Holdings: c.ledger, Claims: c.claims})
		c.links[e.Link] = &conversation{Session: s, device: e.Device, given: map[[32]byte]bool{}}
		c.queue(e.Link, s.Open())
	case Received:
		if s := c.links[e.Link]; s != nil && !c.takeKeys(e.Link, e.Message) {
			c.queue(e.Link, s.Receive(e.Message))
		}
	case Unlinked:
		c.forget(e.Link)
	case Save:
		ids, err := c.save(ctx, now, e)
		c.actions = append(c.actions, Saved{IDs: ids, Err: err})
	case Introduced:
		outcome, err := c.ledger.Append(ctx, e.Runs...)
		c.grown(outcome, err)
		c.actions = append(c.actions, Saved{Err: err})
	}
}

func (c *Core) queue(link LinkID, actions []exchange.Action) {
	for _, a := range actions {
		c.todo = append(c.todo, task{link, a})
	}
}

// work carries out what sessions asked for, then stores what they gathered.
func (c *Core) work(ctx context.Context) {
	for len(c.todo) > 0 {
		t := c.todo[0]
		c.todo = c.todo[1:]
		switch a := t.action.(type) {
		case exchange.Send:
			c.actions = append(c.actions, Send{t.link, a.Message})
		case exchange.Store:
			c.stores = append(c.stores, store{t.link, a.Run})
		case exchange.Refuse:
			// The session goes on without that tip; its claims are told of by Wake.
			c.actions = append(c.actions, Refused{t.link, a.Err})
		case exchange.Wake:
			c.wake(t.link)
		case exchange.Fail:
			c.actions = append(c.actions, Drop{t.link, a.Err})
			c.forget(t.link)
		}
	}
	stores := c.stores
	c.stores = nil
	if len(stores) > 0 {
		c.keep(ctx, stores)
	}
}

// keep stores runs in one transaction. If that fails each is tried alone, so
// that one bad run holds up no other one. Where the disk fails, no run is to
// blame: the link goes, and what it brought is asked for again over the next.
func (c *Core) keep(ctx context.Context, stores []store) {
	runs := make([]entry.Run, len(stores))
	for i, s := range stores {
		runs[i] = s.run
	}
	outcome, err := c.ledger.Append(ctx, runs...)
	if ownFault(err) {
		for _, s := range stores {
			if c.links[s.link] != nil {
				c.actions = append(c.actions, Drop{s.link, err})
				c.forget(s.link)
			}
		}
		return
	}
	if err != nil && len(stores) > 1 {
		for _, s := range stores {
			c.keep(ctx, []store{s})
		}
		return
	}
	for _, s := range stores {
		if session := c.links[s.link]; session != nil {
			c.queue(s.link, session.Stored(s.run, err))
			if err == nil && c.isOwn(s.run) {
				c.actions = append(c.actions, Returned{s.run.Log, len(s.run.Entries), session.device})
			}
		}
	}
	c.grown(outcome, err)
}

// isOwn reports whether a run that was stored is of a log of this laptop.
func (c *Core) isOwn(run entry.Run) bool {
	src, held := c.ledger.Source(run.Log, run.Tip())
	return held && src.Device.Equal(c.own.Key.Public())
}

// ownFault reports whether it is this laptop that can't store.
func ownFault(err error) bool {
	return storage.RefusedByDisk(err) || errors.Is(err, storage.ErrCorrupt) || errors.Is(err, context.Canceled)
}

func (c *Core) grown(outcome storage.Outcome, err error) {
	if err != nil {
		return
	}
	c.changed(outcome)
	c.ring.due = c.ring.due || outcome.Control
	c.actions = append(c.actions, Grown{outcome})
}

// changed tells every session what this laptop has gained, in the order of
// the links, so that a run repeats exactly. Whom that cuts is told all of it.
func (c *Core) changed(o storage.Outcome) {
	var admitted map[entry.DeviceID]ed25519.PublicKey
	if o.Control {
		admitted = c.ledger.Verdict().Admitted()
	}
	for _, link := range slices.Sorted(maps.Keys(c.links)) {
		l := c.links[link]
		if _, member := admitted[l.device]; o.Control && !member {
			c.queue(link, l.Part())
		}
		c.queue(link, l.Changed(o.Tips))
	}
}

// wake lets the other sessions look for what they may ask for now.
func (c *Core) wake(by LinkID) {
	for _, link := range slices.Sorted(maps.Keys(c.links)) {
		if link != by {
			c.queue(link, c.links[link].Changed(nil))
		}
	}
}

func (c *Core) forget(link LinkID) {
	if s := c.links[link]; s != nil {
		delete(c.links, link)
		s.Close()
		c.wake(link)
	}
}

func (c *Core) save(ctx context.Context, now time.Time, save Save) ([]entry.ID, error) {
	if save.Check != nil {
		if err := save.Check(); err != nil {
			return nil, err
		}
	}
	drafts := save.Drafts
	if save.NewLinkKey {
		key, err := c.newKey()
		if err != nil {
			return nil, err
		}
		drafts = append(slices.Clip(drafts), key)
	}
	written, err := c.own.Write(drafts, c.ledger.Lamport(), now)
	if err != nil {
		return nil, err
	}
	outcome, err := c.ledger.Append(ctx, written.Runs...)
	if err != nil {
		return nil, err
	}
	c.own.Commit(written)
	if save.NewLinkKey {
		c.ring.made = nil // it is announced
	}
	c.grown(outcome, nil)
	return written.IDs, nil
}

// Session returns the conversation over a link, or nil.
func (c *Core) Session(link LinkID) *exchange.Session {
	if l := c.links[link]; l != nil {
		return l.Session
	}
	return nil
}

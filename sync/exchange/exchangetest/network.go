package exchangetest

import (
	"fmt"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// Store is holdings that can grow. Append skips what is held and returns the
// tips of the branches that grew.
type Store interface {
	exchange.Holdings
	Append(run entry.Run) ([]exchange.Tip, error)
}

// Network is laptops and the links between them, moved on one step at a time
// by one goroutine. Nothing happens by itself.
type Network struct {
	Nodes []*Node
	Links []*Link
	// Failed collects the reasons of sessions that ended their link.
	Failed []error
	// Refused counts tips that were turned down.
	Refused int
	// Sent counts messages, Bytes what they take, Largest what the largest does.
	Sent, Bytes, Largest int
	// Overheard is called with each message that is sent, if set.
	Overheard func(message []byte)
}

// Node is one laptop.
type Node struct {
	Store   Store
	Claims  *exchange.Claims
	sides   []*Side
	waiting []waiting // runs to be stored, in order
}

type waiting struct {
	side *Side
	run  entry.Run
}

// Link joins two laptops.
type Link struct {
	A, B *Side
	Up   bool
}

// Side is one end of a link.
type Side struct {
	node    *Node
	peer    *Side
	link    *Link
	Session *exchange.Session
	// Inbox holds messages on their way to this side.
	Inbox [][]byte
}

// Add puts a laptop with these holdings into the network.
func (n *Network) Add(store Store) *Node {
	node := &Node{Store: store, Claims: exchange.NewClaims()}
	n.Nodes = append(n.Nodes, node)
	return node
}

// Connect links two laptops with new sessions.
func (n *Network) Connect(a, b *Node, config exchange.Config) *Link {
	link := &Link{A: &Side{node: a}, B: &Side{node: b}, Up: true}
	link.A.peer, link.B.peer = link.B, link.A
	n.Links = append(n.Links, link)
	for _, s := range []*Side{link.A, link.B} {
		own := config
		own.Holdings, own.Claims = s.node.Store, s.node.Claims
		s.link, s.Session = link, exchange.New(own)
		s.node.sides = append(s.node.sides, s)
	}
	for _, s := range []*Side{link.A, link.B} {
		n.do(s, s.Session.Open())
	}
	return link
}

// Cut breaks a link; what is on its way is lost.
func (n *Network) Cut(link *Link) {
	if !link.Up {
		return
	}
	link.Up = false
	n.Links = slices.DeleteFunc(n.Links, func(l *Link) bool { return l == link })
	for _, s := range []*Side{link.A, link.B} {
		s.Inbox = nil
		s.Session.Close()
		s.node.sides = slices.DeleteFunc(s.node.sides, func(other *Side) bool { return other == s })
	}
	for _, s := range []*Side{link.A, link.B} {
		n.changed(s.node, nil)
	}
}

// do carries out what a session asks for.
func (n *Network) do(s *Side, actions []exchange.Action) {
	wake := false
	for _, a := range actions {
		switch a := a.(type) {
		case exchange.Send:
			n.Sent++
			n.Bytes += len(a.Message)
			n.Largest = max(n.Largest, len(a.Message))
			if n.Overheard != nil {
				n.Overheard(a.Message)
			}
			if s.link.Up {
				s.peer.Inbox = append(s.peer.Inbox, a.Message)
			}
		case exchange.Store:
			s.node.waiting = append(s.node.waiting, waiting{s, a.Run})
		case exchange.Refuse:
			n.Refused++
		case exchange.Wake:
			wake = true
		case exchange.Fail:
			n.Failed = append(n.Failed, a.Err)
			n.Cut(s.link)
		}
	}
	if wake {
		n.changed(s.node, nil)
	}
}

// Write stores what the laptop itself wrote.
func (n *Network) Write(node *Node, run entry.Run) error {
	tips, err := node.Store.Append(run)
	n.changed(node, tips)
	return err
}

func (n *Network) changed(node *Node, tips []exchange.Tip) {
	for _, s := range slices.Clone(node.sides) {
		n.do(s, s.Session.Changed(tips))
	}
}

// Step is one thing that can happen next.
type Step func()

// Steps returns what can happen next: a message arrives, a run is stored.
func (n *Network) Steps() []Step {
	var steps []Step
	for _, link := range n.Links {
		for _, s := range []*Side{link.A, link.B} {
			if len(s.Inbox) > 0 {
				steps = append(steps, func() { n.deliver(s) })
			}
		}
	}
	for _, node := range n.Nodes {
		if len(node.waiting) > 0 {
			steps = append(steps, func() { n.store(node) })
		}
	}
	return steps
}

func (n *Network) deliver(s *Side) {
	message := s.Inbox[0]
	s.Inbox = s.Inbox[1:]
	n.do(s, s.Session.Receive(message))
}

func (n *Network) store(node *Node) {
	w := node.waiting[0]
	node.waiting = node.waiting[1:]
	tips, err := node.Store.Append(w.run)
	n.do(w.side, w.side.Session.Stored(w.run, err))
	n.changed(node, tips)
}

// Settle moves on until nothing can happen, by the given choice among the
// steps (nil: the first), and fails if that takes more steps than allowed.
func (n *Network) Settle(limit int, choose func(n int) int) error {
	for range limit {
		steps := n.Steps()
		if len(steps) == 0 {
			return nil
		}
		i := 0
		if choose != nil {
			i = choose(len(steps))
		}
		steps[i]()
	}
	return fmt.Errorf("not settled after %d steps", limit)
}

// Sides returns both ends of a link.
func (l *Link) Sides() []*Side { return []*Side{l.A, l.B} }

// Joins reports whether the link is between these two laptops.
func (l *Link) Joins(a, b *Node) bool {
	return l.A.node == a && l.B.node == b || l.A.node == b && l.B.node == a
}

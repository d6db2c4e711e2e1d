package node

import (
	"time"

	"plumbline/sync/mesh"
)

// A laptop that is revoked while linked is told of it before the link ends:
// else its person would go on working for nobody. It is sent what waited for
// it, the cut among that, and nothing more.
const (
	farewellTime  = 500 * time.Millisecond // at most, for what waits to go out
	farewellGrace = 100 * time.Millisecond // for it to arrive
)

// rejudge ends the links that a new verdict no longer allows. Such a link ends also
// if its laptop is admitted again meanwhile: what was written since was not taken
// for it, and only a new link asks what it lacks.
func (n *Node) rejudge(m *mesh.Mesh) {
	leaving := n.refused()
	if len(leaving) == 0 {
		m.Recheck()
		return
	}
	n.spawn(func() {
		n.await(leaving)
		m.Recheck()
		for _, f := range leaving {
			f.link.Close("its laptop was told goodbye, and is admitted again")
		}
	})
}

// farewell is what is still sent over a link.
type farewell struct {
	link mesh.Link
	said <-chan struct{} // closed once it has gone out
}

// refused marks the links of devices that are no longer admitted.
func (n *Node) refused() []farewell {
	admitted := n.store.Verdict().Admitted()
	n.mu.Lock()
	defer n.mu.Unlock()
	var leaving []farewell
	for _, l := range n.links {
		if _, member := admitted[l.link.Peer().Device]; !member {
			leaving = append(leaving, farewell{l.link, l.leave()})
		}
	}
	return leaving
}

func (n *Node) await(leaving []farewell) {
	late := time.NewTimer(farewellTime)
	defer late.Stop()
	for _, f := range leaving {
		select {
		case <-f.said:
		case <-late.C:
			return
		case <-n.ctx.Done():
			return
		}
	}
	select {
	case <-time.After(farewellGrace):
	case <-n.ctx.Done():
	}
}

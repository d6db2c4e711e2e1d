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

// rejudge ends the links that a new verdict no longer allows.
func (n *Node) rejudge(m *mesh.Mesh) {
	leaving := n.refused()
	if len(leaving) == 0 {
		m.Recheck()
		return
	}
	n.spawn(func() {
		n.await(leaving)
		m.Recheck()
	})
}

// refused marks the links of devices that are no longer admitted.
func (n *Node) refused() []<-chan struct{} {
	admitted := n.store.Verdict().Admitted()
	n.mu.Lock()
	defer n.mu.Unlock()
	var leaving []<-chan struct{}
	for _, l := range n.links {
		if _, member := admitted[l.link.Peer().Device]; !member {
			leaving = append(leaving, l.leave())
		}
	}
	return leaving
}

func (n *Node) await(leaving []<-chan struct{}) {
	late := time.NewTimer(farewellTime)
	defer late.Stop()
	for _, drained := range leaving {
		select {
		case <-drained:
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

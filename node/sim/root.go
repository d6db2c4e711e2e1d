package sim

import (
	"slices"

	"plumbline/node"
	"plumbline/sync/entry"
)

// rootGrants writes a grant in the root's log. It is nowhere else yet.
func (w *World) rootGrants(l *Laptop, role entry.Role, generation uint64) []byte {
	c := entry.Certificate{Person: l.person, Role: role, Device: l.public(), Generation: generation}
	c.Opaque[0] = byte(len(w.root.run.Entries))
	w.rootWrites(entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: c.Encode()}})
	return c.Encode()
}

func (w *World) rootWrites(body entry.Body) {
	e, err := w.root.writer.Append("", body, 0, 0)
	w.must(err)
	w.root.run.Entries = append(slices.Clip(w.root.run.Entries), e)
}

// rootSpeaks brings the root's log to a laptop: all of it, since the root is on
// paper and doesn't know what is held.
func (w *World) rootSpeaks(to *Laptop) {
	run := w.root.run
	run.Points = []entry.SignedPoint{w.root.writer.Sign()}
	if s := to.step(node.Introduced{Runs: []entry.Run{run}}); s.Err != nil && !injected(s.Err) && to.up != nil {
		w.fail("%s refuses the root's word: %v", to, s.Err)
	}
}

// rootStep lets the root admit a director of the next generation, as after the
// loss of the only director's laptop, or cut somebody.
func (w *World) rootStep(d *dice) {
	at := w.someone(d, running)
	if at == nil {
		return
	}
	if d.one(2) {
		target := pick(d, w.laptops)
		w.rootWrites(entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{Device: target.device(), Heads: at.headsOf(target.device())}})
	} else {
		w.rootGrants(at, entry.RoleDirector, uint64(1+d.IntN(2)))
	}
	says, err := entry.DecodeBody(w.root.run.Entries[len(w.root.run.Entries)-1].Body)
	w.must(err)
	w.count.add("root speaks")
	w.say("the root at %s: %s", at, describe(says))
	w.rootSpeaks(at)
}

package sim

import (
	"maps"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// What a conversation may cost in bytes, from the format of its messages
// (sync/exchange/wire.go).
const (
	// pointSize is a number and a hash.
	pointSize = 3 + 32
	// tipSize is a tip that is told: log, point, flag.
	tipSize = 16 + pointSize + 1
	// runSize is what comes with a run of entries beside them: it is asked for (kind,
	// number, log, target and up to 10 points that are held), and comes as a chunk
	// (kind, flag, number, log, ends) with its lengths, a signed point, and what the
	// compressor adds to what can't be made smaller.
	runSize = (4 + 16 + 11*pointSize) + (5 + 16 + 2*pointSize) + (8 + pointSize + 64 + 16)
	// linkSize is the beginning of a link and the link keys that are given over it.
	linkSize = 2*4*4 + 2*(2+3*32)
)

// cost gathers what may be sent beside the entries that are lacking.
type cost int

// linked counts a link that has begun: each side lists what it holds.
func (c *cost) linked(k *link) {
	for _, s := range k.sides {
		if s.lives() {
			*c += cost(linkSize/2 + tipSize*len(s.up.store.Tips()))
		}
	}
}

// grown counts what a laptop has stored: it was asked for or pushed, and over each
// link the laptop tells where its logs end now. What it wrote itself it pushes, and
// whoever has heard of it by then from somebody else gets it twice.
func (c *cost) grown(l *Laptop, runs []entry.Run, tips int, own bool) {
	links := 0
	for _, k := range l.w.links {
		if k.sides[0].l == l || k.sides[1].l == l {
			links++
		}
	}
	*c += cost(links*tips*tipSize + len(runs)*(runSize+tipSize))
	if !own {
		return
	}
	for _, run := range runs {
		*c += cost(links * runSize)
		for _, e := range run.Entries {
			*c += cost(links * e.Size())
		}
	}
}

// boundedBytes holds what was sent in the end against what was lacking and what it
// takes to find that out. An entry may be sent twice: seldom one is that was on its
// way when the faults ended (DEVELOPERS.md, Known and open). What was on its way over
// a link that a cut has ended is sent twice in any case, and so may be what two
// branches of a log share, so this is about ends without either.
func (w *World) boundedBytes(gained int) {
	if limit := 2*gained + int(w.due); w.sent > limit {
		w.fail("%d bytes were sent where %d were lacking and %d are due for finding that out", w.sent, gained, w.due)
	}
}

// gained is how many bytes of entries laptops hold that they didn't hold before.
func (w *World) gained(before []map[*mergetest.Fact]bool) (size int) {
	for i, l := range w.laptops {
		for f := range l.held {
			if !before[i][f] {
				size += f.Size()
			}
		}
	}
	return size
}

func (w *World) holdings() (held []map[*mergetest.Fact]bool) {
	for _, l := range w.laptops {
		held = append(held, maps.Clone(l.held))
	}
	return held
}

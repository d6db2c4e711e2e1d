package sim

import (
	"maps"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
	"plumbline/sync/wire"
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

// crossed counts what wants ask for that are on their way when the counting begins, as
// far as it has come meanwhile: a laptop asks whoever tells it of an entry first, though
// the entry may be on its way from its author, too. To wait whether it comes would cost
// time in every other case. Who is asked can't know what came since, and sends it again.
func (c *cost) crossed(k *link) {
	for _, s := range k.sides {
		w, asking := s.l.w, s.peer().l
		for _, m := range s.inbox {
			log, target, named, ok := readWant(m)
			if !ok {
				continue
			}
			w.count.add("asked when healed")
			*c += runSize
			for f := w.written.facts[place{log, target}]; f != nil && f.Seq > named; f = f.Prev {
				if asking.held[f] {
					*c += cost(f.Size())
				}
			}
		}
	}
}

// readWant reads a want by its format: the log, the target, and the highest number that
// is named as held. It is false for other messages.
func readWant(message []byte) (log entry.LogID, target entry.Point, named uint64, ok bool) {
	const kindWant = 2
	d := wire.Decoder{Rest: message}
	if d.Byte() != kindWant {
		return log, target, 0, false
	}
	d.Uvarint() // the want's number
	log, target = d.Array16(), entry.Point{Seq: d.Uvarint(), Hash: d.Array32()}
	for range d.Count() {
		named = max(named, d.Uvarint())
		d.Array32()
	}
	return log, target, named, d.Done() == nil
}

// boundedBytes holds what was sent in the end against what was lacking and what it
// takes to find that out. What was on its way over a link that a cut has ended is sent
// twice, and so may be what two branches of a log share, so this is about ends
// without either.
func (w *World) boundedBytes(gained int) {
	if limit := gained + int(w.due); w.sent > limit {
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

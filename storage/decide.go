package storage

import (
	"fmt"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

const (
	// SetAsideLimit is how many bytes of a device are kept beyond what it may
	// write, so that a stolen laptop can't fill everybody's disk.
	SetAsideLimit = 16 << 20
	// StrangersLimit is how many bytes are kept of all devices together that no
	// grant names. Their writing may wait for a grant that is on its way, but
	// anybody can invent devices by the thousand. What is refused is asked for
	// again when control entries come.
	StrangersLimit = 2 * SetAsideLimit
	// asideLog is what a log without standing counts for at least, in bytes: even
	// an empty one takes memory.
	asideLog = 4 << 10
	// LogsLimit is how many logs of one device are kept, each branch counted: what
	// one cut can name within [entry.MaxSize], so that every laptop can be revoked.
	// A laptop opens a log after a crash, so an honest one comes nowhere near; but
	// each costs a kilobyte of memory, for good, however little is in it.
	LogsLimit = 1536
)

// notice looks through what came for whatever bears on the verdict: a new log,
// a control entry, a head that a cut names and that wasn't held.
func (d *draft) notice() error {
	awaitedLogs := map[entry.LogID]bool{}
	for h := range d.awaited {
		awaitedLogs[h.Log] = true
	}
	for _, g := range d.growths {
		log := d.branches[g.n].log
		if log.genesis.Control {
			d.noticeControls(g, log)
		}
		if !awaitedLogs[log.id] {
			continue
		}
		for _, e := range g.entries {
			d.arrive(e.Point.ID(log.id))
		}
	}
	return nil
}

func (d *draft) noticeControls(g *growth, log *logInfo) {
	// Clipped, so that what is appended isn't written behind the slice that
	// readers may hold.
	d.controls = slices.Clip(d.controls)
	for _, e := range g.entries {
		if e.Seq > 1 {
			d.controls = append(d.controls, control(e.Point.ID(log.id), merge.Place{Branch: g.n, Seq: e.Seq}, e.Body))
			d.rejudge = true
		}
	}
}

func (d *draft) arrive(id entry.ID) {
	waiting, ok := d.awaited[id]
	if !ok {
		return
	}
	delete(d.awaited, id)
	for _, who := range waiting {
		if who == "" {
			d.rejudge = true
		} else {
			d.arrived = append(d.arrived, who)
		}
	}
}

// decide reaches a new verdict if need be, and says how far along each branch
// it lets rights reach.
func (d *draft) decide() error {
	if !d.rejudge {
		for _, g := range d.growths {
			d.setSpan(g.n)
		}
		return nil
	}
	d.judged = true
	for _, c := range d.controls[len(d.before.controls):] {
		if c.Body.Cut != nil {
			if err := d.await(d.hashAt, "", c.Body.Cut.Heads); err != nil {
				return err
			}
		}
	}
	verdict, err := d.judge(d.hashAt)
	if err != nil {
		return err
	}
	d.verdict = verdict
	d.named = d.limitsNamed()
	return nil
}

func (d *draft) setSpan(n merge.Branch) {
	b := d.branches[n]
	b.span = d.spanOf(n)
}

func (d *draft) spanOf(n merge.Branch) merge.Span {
	return d.verdict.Standing(d.branches[n].log.id).Span(d.tree, n)
}

// bound refuses what a device without standing wrote beyond what is kept of it.
func (d *draft) bound() error {
	for _, g := range d.growths {
		b := *d.branches[g.n]
		b.span = d.spanOf(g.n)
		free := d.freeOf(&b)
		size := sizeBeyond(g.entries, free)
		reaches := g.first <= free && size <= 4*entry.PointSpacing
		if size > 0 && !reaches && !d.hasRoom(b.log.device, size) {
			return fmt.Errorf("log %s of device %s: %w", b.log.id, b.log.device, ErrSetAsideFull)
		}
	}
	return nil
}

func sizeBeyond(entries []entry.Entry, seq uint64) (size uint64) {
	if len(entries) == 0 || entries[len(entries)-1].Seq <= seq {
		return 0
	}
	for _, e := range entries {
		if e.Seq > seq {
			size += uint64(e.Size())
		}
	}
	return size
}

// measure keeps up how much of each branch counts as set aside. Only what came
// can have changed it, unless what is named has.
func (d *draft) measure() error {
	if d.judged || d.retiring {
		return d.measureAll()
	}
	for _, g := range d.growths {
		if err := d.measureBranch(g.n); err != nil {
			return err
		}
	}
	return nil
}

func (d *draft) measureBranch(n merge.Branch) error {
	b := d.branches[n]
	free := d.freeOf(b)
	switch g := d.grew[n]; {
	case free != b.free:
		return d.measureAside(d.read(), n, d.own(n))
	case g != nil:
		b.aside += sizeBeyond(g.entries, free)
	}
	return nil
}

func (d *draft) measureAll() error {
	d.named = d.limitsNamed()
	for n := range d.branches {
		if err := d.measureBranch(merge.Branch(n)); err != nil {
			return err
		}
	}
	return nil
}

package sim

import (
	"maps"

	"plumbline/node"
	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// image is a disk as it was, with what it had acknowledged by then.
type image struct {
	disk     Disk
	promised map[*mergetest.Fact]bool
	half     []byte // of the token, for a copy of the whole machine
}

func (w *World) backup(d *dice) {
	l := w.someone(d, running)
	if l == nil {
		return
	}
	if d.one(4) {
		w.snapshot(l)
		return
	}
	disk, err := l.disk.Backup()
	if err != nil {
		w.must(err)
		return
	}
	l.keepImage(&l.backup, image{disk: disk, promised: maps.Clone(l.held)})
	w.count.add("backup")
}

func (l *Laptop) keepImage(at **image, i image) {
	if *at != nil {
		(*at).disk.Gone()
	}
	*at = &i
}

// snapshot copies the whole machine while it is closed in good order.
func (w *World) snapshot(l *Laptop) {
	l.close()
	disk, err := l.disk.Copy()
	w.must(err)
	if err == nil {
		l.keepImage(&l.snapshot, image{disk: disk, promised: maps.Clone(l.promised), half: l.outside.half})
	}
	l.start()
}

// restore puts the laptop's last backup in the place of its disk. The half of
// the token outside stays what it is.
func (w *World) restore(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { return l.backup != nil && !l.gone })
	if l == nil {
		return
	}
	w.stop(d, l)
	disk, err := l.backup.disk.Copy()
	w.must(err)
	if err == nil {
		l.become(disk, l.backup.promised)
		w.count.add("restore")
		l.start()
	}
}

// rollBack sets the whole machine back, the half outside too: what no laptop can
// notice.
func (w *World) rollBack(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { return l.snapshot != nil && !l.gone })
	if l == nil {
		return
	}
	w.stop(d, l)
	disk, err := l.snapshot.disk.Copy()
	w.must(err)
	if err == nil {
		l.become(disk, l.snapshot.promised)
		l.outside.half, l.cloned = l.snapshot.half, true
		w.count.add("rollback of everything")
		l.start()
	}
}

// clone copies a laptop, disk, keys and all, while it is closed in good order or
// as it runs. Both go on.
func (w *World) clone(d *dice) {
	l := w.someone(d, func(l *Laptop) bool { return !l.gone && l.certificate != nil })
	if l == nil || len(w.laptops) >= 2*w.plan.Laptops+2 {
		return
	}
	if !d.one(3) {
		l.close()
	}
	disk, err := l.disk.Copy()
	w.must(err)
	if err != nil {
		return
	}
	twin := w.newLaptop(false)
	twin.disk.Gone()
	twin.disk, twin.outside = disk, &outside{half: l.outside.half, faults: disk.Faults()}
	twin.ring = l.ring.copy(disk.Faults())
	twin.key, twin.person, twin.certificate = l.key, l.person, l.certificate
	twin.promised, twin.readmitted = maps.Clone(l.promised), l.readmitted
	for _, other := range w.laptops {
		if other.key.Equal(l.key) {
			other.cloned = true
		}
	}
	twin.cloned = true
	w.laptops, w.isles[twin] = append(w.laptops, twin), w.isles[l]
	w.count.add("clone")
	l.start()
	twin.start()
	for range d.IntN(3) {
		for _, either := range []*Laptop{l, twin} {
			if id, ok := either.mineIfUp(d); ok {
				either.save(node.Draft{Record: id, Body: either.edits(d, id)})
			}
		}
	}
}

func (l *Laptop) mineIfUp(d *dice) (entry.RecordID, bool) {
	if !writer(l) {
		return "", false
	}
	return l.mine(d, l.w.records)
}

package sim

import (
	"context"
	"errors"
	"os"

	"plumbline/node"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// joinAlone brings somebody into the staff with the ledger that they kept alone
// (ledger rule 33). It lies in real SQLite: the move is one of files, of which a disk
// of memory has none.
func (w *World) joinAlone(d *dice) {
	by := w.someone(d, func(l *Laptop) bool { return director(l) && !l.up.store.Blocked() })
	if by == nil || len(w.laptops) >= 2*w.plan.Laptops+2 {
		return
	}
	a, was := w.alone(d)
	l := w.newLaptop(false)
	l.disk.Gone()
	l.key, l.person = was.key, was.person
	if other := pick(d, w.laptops); d.one(4) {
		l.person = other.person
	}
	if a.failure == nil && w.admit(d, by, l, d.one(3), nil) && by.up != nil {
		if control, err := node.Introduction(by.up.store); err == nil {
			w.moveIn(d, a, by, l, control)
		} else if !injected(err) {
			w.fail("%s introduces itself: %v", by, err)
		}
	}
	if a.failure != nil {
		w.fail("alone, in step %d (%s): %s", a.failure.Step.Number, a.failure.Step.Do, a.failure.What)
	}
	was.disk.Gone()
}

// moveIn takes along what was written alone, after some attempts that come to nothing.
func (w *World) moveIn(d *dice, a *World, by, l *Laptop, control []byte) {
	was := a.laptops[0]
	cert, err := entry.DecodeCertificate(l.certificate)
	w.must(err)
	for range d.IntN(3) {
		w.cutOff(d, a, l, cert, control)
		if a.failure != nil || w.failure != nil {
			return
		}
	}
	name := renaming(was.person, l.person)
	before, hash := w.shown(was, a.allRecords(), name), was.up.store.StateHash()
	if err := w.stage(background, d, was, cert, control); err != nil {
		w.fail("%s can't take along what it wrote alone: %v", l, err)
		return
	}
	// From here on it is a member: the keys' file was replaced.
	disk := was.disk.(*database)
	if d.one(2) {
		w.count.add("move cut off after it counted")
		w.must(disk.goOnAsOf(disk.copyAll()))
		was.ended()
	} else {
		was.close()
	}
	for range 1 + d.IntN(2) {
		if err := node.SettleMove(disk.folder, w.staff, l.device()); err != nil {
			w.fail("%s can't end its move: %v", l, err)
			return
		}
	}
	w.checkKept(l, disk.folder, hash)
	w.settleIn(by, l, disk, a.records, name)
	if l.up != nil && w.failure == nil {
		w.checkTaken(l, cert, before)
		w.introduce(by, l)
		w.connect(by, l)
	}
}

// settleIn makes the laptop one of the staff's.
func (w *World) settleIn(by, l *Laptop, disk *database, records []entry.RecordID, name func([]byte) []byte) {
	moved, err := newDatabase(w.folders, w.count)
	w.must(err)
	w.must(os.Remove(moved.folder))
	moved.folder, disk.folder = disk.folder, moved.folder
	l.disk = moved
	l.outside.faults, l.ring.faults = moved.Faults(), moved.Faults()
	l.ring.pair(by.ring)
	w.learnRewritten(l)
	for _, id := range records {
		if id.Class() == entry.Owned {
			w.meet(entry.RecordID(name([]byte(id))))
		}
	}
	w.count.add("joined with what was written alone")
	w.laptops, w.isles[l] = append(w.laptops, l), w.isles[by]
	l.start()
}

// stage makes everything ready for the move.
func (w *World) stage(ctx context.Context, d *dice, was *Laptop, cert entry.Certificate, control []byte) error {
	o, _ := was.database()
	id := entry.NewRecordID(entry.Owned, record.Device, cert.Person, [16]byte{1})
	return node.Moving{
		Data: o.disk.folder, From: o.Store, Was: was.person, Key: was.key, Staff: w.staff, Certificate: cert, Control: control,
		Random: chance(d.Uint64(), 1), Now: was.now(),
		First: node.Draft{Record: id, Body: changes(entry.Change{Register: registers[0], Op: entry.OpValue, Value: []byte("alone")})},
	}.Stage(ctx)
}

// cutOff is a move that the power or the disk ends before it counts: the ledger from
// before is as it was, whatever has been made of the other, and is written to again.
func (w *World) cutOff(d *dice, a *World, l *Laptop, cert entry.Certificate, control []byte) {
	was := a.laptops[0]
	disk := was.disk.(*database)
	hash := was.up.store.StateHash()
	left := d.IntN(30)
	if d.one(2) {
		tired := &interrupted{Context: background, left: left}
		err := w.stage(tired, d, was, cert, control)
		if err == nil {
			if tired.left >= 0 {
				return // the disk held out, and whoever pairs thinks better of it
			}
			w.fail("%s says that its move is whole, which the disk refused", l)
		}
		if !injected(err) {
			w.fail("%s can't take along what it wrote alone: %v", l, err)
		}
		w.count.add("move refused by the disk")
		w.must(node.SweepMoves(disk.folder, true, l.device()))
	} else {
		var copied string
		var err error
		ctx := &noticed{Context: background, left: left, then: func() { copied, err = disk.copyAll() }}
		if err := w.stage(ctx, d, was, cert, control); err != nil {
			w.fail("%s can't take along what it wrote alone: %v", l, err)
			return
		}
		if copied == "" { // all of it is there, but for the keys
			copied, err = disk.copyAll()
		}
		w.must(disk.goOnAsOf(copied, err))
		was.ended()
		w.count.add("move cut off before it counted")
		w.must(node.SettleMove(disk.folder, a.staff, l.device()))
		w.must(node.SweepMoves(disk.folder, true, l.device()))
	}
	a.rests(was)
	if was.up == nil {
		return
	}
	if a.failure == nil && was.up.store.StateHash() != hash {
		w.fail("%s has another ledger than before a move that came to nothing", l)
	}
	if id, ok := was.mine(d, a.records); ok {
		was.save(node.Draft{Record: id, Body: was.edits(d, id)})
	}
}

// noticed is a context that tells when it is looked at for the nth time.
type noticed struct {
	context.Context
	left int
	then func()
}

func (c *noticed) Err() error {
	if c.left--; c.left == 0 {
		c.then()
	}
	return nil
}

// copyAll copies the folder with everything in it, as it lies there now.
func (d *database) copyAll() (string, error) {
	folder, err := d.folders.next()
	if err != nil {
		return "", err
	}
	return folder, os.CopyFS(folder, os.DirFS(d.folder))
}

// goOnAsOf puts a copy of everything in the place of the folder, which is gone.
func (d *database) goOnAsOf(folder string, err error) error {
	if err != nil {
		return err
	}
	if d.open != nil {
		err = d.open.Store.Close()
		d.open = nil
	}
	old := d.folder
	d.folder, d.durable, d.torn = folder, 0, false
	return errors.Join(err, os.RemoveAll(old))
}

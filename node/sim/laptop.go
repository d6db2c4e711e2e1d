package sim

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"maps"
	"time"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// Laptop is one machine and the person before it. Its disk and the half of the
// token outside of it outlive its process.
type Laptop struct {
	w           *World
	number      int
	key         ed25519.PrivateKey
	person      entry.PersonID
	certificate []byte // the first one granted to it
	random      io.Reader
	disk        Disk
	outside     *outside
	ring        *keyring
	clock       time.Duration // what its clock shows too much
	screen      map[cell][]entry.ID
	read        map[entry.RecordID]entry.Retirement

	up   *process // nil while it doesn't run
	gone bool     // for good
	// readmitted is set once it was invited again after a cut.
	readmitted bool
	// cloned is set when another copy of its key and disk exists, or existed.
	cloned bool

	// promised is what the disk has acknowledged; held what the laptop holds, and
	// set the sum over it.
	promised         map[*mergetest.Fact]bool
	held             map[*mergetest.Fact]bool
	set              digest
	changed          bool
	backup, snapshot *image
	// lost is what a disk that is gone had acknowledged.
	lost map[*mergetest.Fact]bool
}

// cell is one register of one record.
type cell struct {
	record entry.RecordID
	reg    entry.Register
}

// process is a laptop that runs.
type process struct {
	core  *node.Core
	own   *node.OwnLogs
	store Store
}

// outside is the token's half beside the data folder.
type outside struct {
	half   []byte
	faults *faults
}

func (o *outside) Leave(half []byte) error {
	if o.faults.moment("before write") {
		panic(died{})
	}
	o.half = half
	return nil
}

func (o *outside) Take() ([]byte, error) {
	if o.faults.moment("before write") {
		panic(died{})
	}
	half := o.half
	o.half = nil
	return half, nil
}

func (w *World) newLaptop(database bool) *Laptop {
	l := &Laptop{w: w, number: len(w.laptops), random: chance(w.plan.Seed, 1+len(w.laptops))}
	l.key = newKey(l.random)
	_, _ = io.ReadFull(l.random, l.person[:])
	if database {
		d, err := newDatabase(w.folders, w.count)
		w.must(err)
		l.disk = d
		w.count.add("database")
	} else {
		l.disk = newJournal(w.written, w.count)
	}
	l.outside, l.ring = &outside{faults: l.disk.Faults()}, &keyring{faults: l.disk.Faults()}
	l.promised, l.held = map[*mergetest.Fact]bool{}, map[*mergetest.Fact]bool{}
	l.lost = map[*mergetest.Fact]bool{}
	l.blank()
	return l
}

// blank is a screen on which nothing is shown.
func (l *Laptop) blank() {
	l.screen, l.read = map[cell][]entry.ID{}, map[entry.RecordID]entry.Retirement{}
}

func (l *Laptop) public() ed25519.PublicKey { return l.key.Public().(ed25519.PublicKey) }

func (l *Laptop) device() entry.DeviceID { return entry.DeviceOf(l.public()) }

func (l *Laptop) String() string { return fmt.Sprintf("laptop %d", l.number) }

// now is what the laptop's clock shows.
func (l *Laptop) now() time.Time {
	return time.Unix(1_800_000_000, 0).Add(time.Duration(l.w.ticks) * time.Minute).Add(l.clock)
}

// best is the certificate that it writes under and what it may still do; false
// if it may nothing.
func (l *Laptop) best() ([]byte, entry.Certificate, bool) {
	bytes, cert, admission := node.Best(l.up.store.Verdict(), l.public())
	return bytes, cert, admission == merge.Admitted
}

var errNoStanding = errors.New("no certificate admits this laptop")

// start opens what lies on the disk and continues its logs where the token
// allows it.
func (l *Laptop) start() {
	if l.up != nil || l.gone || l.w.failure != nil {
		return
	}
	l.disk.Faults().failing = 0
	store, err := l.disk.Open(l.w.staff)
	if err != nil {
		l.w.fail("%s doesn't open its ledger: %v", l, err)
		return
	}
	watched := &watched{Store: store, l: l}
	l.up = &process{store: watched}
	l.up.own = &node.OwnLogs{Staff: l.w.staff, Key: l.key, Random: l.random, Certificate: func() ([]byte, error) {
		if best, _, ok := l.best(); ok {
			return best, nil
		}
		return nil, errNoStanding
	}}
	l.reopened()
	l.guarded(func() {
		if err := node.TakeToken(background, watched, l.outside, l.up.own); err != nil && !injected(err) {
			l.w.fail("%s takes its token: %v", l, err)
		}
		if len(l.up.own.Tips()) > 0 {
			l.w.count.add("log continued")
		}
		l.up.core = node.NewCore(watched, l.up.own, l.ring)
	})
	l.step(node.Started{})
	l.w.say("%s (device %.4s) runs, holding %d", l, l.device(), len(l.held))
}

// guarded runs what may end in the middle of a write.
func (l *Laptop) guarded(do func()) {
	defer func() {
		switch cause := recover(); cause.(type) {
		case nil:
		case died:
			l.w.say("%s loses power", l)
			l.die()
		default:
			panic(cause)
		}
	}()
	do()
}

// die ends the process without a word.
func (l *Laptop) die() {
	l.w.must(l.disk.Die(newDice(l.w.step.Roll, 4)))
	l.ended()
}

func (l *Laptop) ended() {
	l.up = nil
	l.w.hangUp(l)
}

// close ends the process in good order.
func (l *Laptop) close() {
	if l.up == nil {
		return
	}
	l.guarded(func() {
		if err := node.LeaveToken(background, l.up.store, l.outside, l.up.own); err != nil && !injected(err) {
			l.w.fail("%s leaves its token: %v", l, err)
		}
		l.w.must(l.up.store.Close())
		l.ended()
		l.w.count.add("clean restart")
	})
}

// step lets the core take events and carries out what it asks for.
func (l *Laptop) step(events ...node.Event) (saved node.Saved) {
	if l.up == nil || l.w.failure != nil {
		return node.Saved{Err: errors.New("the laptop isn't running")}
	}
	saved.Err = errors.New("the laptop lost its power")
	l.guarded(func() {
		for _, action := range l.up.core.Step(background, l.now(), events...) {
			switch a := action.(type) {
			case node.Send:
				l.w.send(l, a)
			case node.Drop:
				l.w.drop(l, a)
			case node.Saved:
				saved = a
				l.acknowledged(a)
			case node.Failed:
				l.w.count.add("tried again later")
				if !injected(a.Err) {
					l.w.fail("%s fails: %v", l, a.Err)
				}
			case node.Grown:
				if a.Outcome.Control {
					l.w.later = append(l.w.later, func() { l.w.rejudge(l) })
				}
			}
		}
	})
	return saved
}

// acknowledged holds the laptop to what it has told its person.
func (l *Laptop) acknowledged(a node.Saved) {
	if a.Err != nil {
		return
	}
	for _, id := range a.IDs {
		f := l.w.fact(id)
		if f == nil || !l.held[f] {
			l.w.fail("%s acknowledged %s, which isn't stored", l, id)
			continue
		}
		l.promised[f] = true
	}
}

// become puts another disk in the place of the laptop's.
func (l *Laptop) become(d Disk, promised map[*mergetest.Fact]bool) {
	l.disk.Gone()
	l.disk = d
	l.outside.faults, l.ring.faults = d.Faults(), d.Faults()
	for f := range l.promised {
		if !promised[f] {
			l.lost[f] = true
		}
	}
	l.promised = maps.Clone(promised)
}

// injected reports whether an error is one of the simulator's making.
func injected(err error) bool {
	return errors.Is(err, storage.ErrFull) || errors.Is(err, storage.ErrDisk) || errors.Is(err, context.Canceled)
}

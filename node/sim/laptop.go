package sim

import (
	"crypto/ed25519"
	"fmt"
	"io"
	"maps"
	"time"

	"plumbline/node"
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
	read        map[entry.RecordID]glance
	aside       aside

	up   *process // nil while it doesn't run
	gone bool     // for good
	// readmitted is set once it was invited again after a cut.
	readmitted bool
	// cloned is set when another copy of its key and disk exists, or existed.
	cloned bool

	// unsure are the entries of its own that the disk took last without making them
	// durable: whether it has them shows at the next start.
	unsure []*mergetest.Fact

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
	l.screen, l.read, l.aside = map[cell][]entry.ID{}, map[entry.RecordID]glance{}, aside{}
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

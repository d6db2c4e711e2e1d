package sim

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"io"
	"math/rand/v2"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// World is a staff in the middle of a run.
type World struct {
	plan    Plan
	options Options
	count   Counts
	written *written
	folders *folders

	staff   entry.StaffID
	root    *rootLog
	laptops []*Laptop
	records []entry.RecordID
	// saves counts every saved value, so that texts differ; ticks is how much
	// time has passed by everybody's watch.
	saves, ticks int

	links    []*link
	lastLink uint64
	// isles numbers the part of the network that each laptop is in.
	isles map[*Laptop]int

	// states holds which state each set of entries came to, on any laptop at any
	// time.
	states map[digest]merge.StateHash
	// models holds what the rules read out loud make of sets of entries.
	models map[digest]reading
	// late are entries whose author hadn't heard of a cut of their laptop.
	late map[*mergetest.Fact]bool
	// later is done before the current step ends, in order.
	later []func()

	step    Step
	failure *Failure
	trace   hash.Hash
	sent    int // bytes
	ends    int // links that ended
}

// Options are what a run is followed with besides its plan.
type Options struct {
	// Folder is where databases lie for the time of the run.
	Folder string
	// Clocks chooses how laptops' clocks go wrong. Another number changes
	// nothing but displayed times.
	Clocks uint64
	// Outcome asks for what the laptops show in the end.
	Outcome bool
	// Log is told what happens; nil for silence.
	Log io.Writer
}

// Failure is a promise that was broken.
type Failure struct {
	// Step is where it was seen; Number -1 in the end.
	Step Step
	What string
}

func (f *Failure) String() string {
	return fmt.Sprintf("step %d (%s): %s", f.Step.Number, f.Step.Do, f.What)
}

// fail notes the first broken promise.
func (w *World) fail(format string, args ...any) {
	if w.failure == nil {
		w.failure = &Failure{Step: w.step, What: fmt.Sprintf(format, args...)}
		w.say("FAILED: %s", w.failure.What)
	}
}

// must fails the run for an error of the simulator's own surroundings.
func (w *World) must(err error) {
	if err != nil {
		w.fail("the simulator itself: %v", err)
	}
}

func (w *World) say(format string, args ...any) {
	if w.options.Log != nil {
		fmt.Fprintf(w.options.Log, "%4d %-14s %s\n", w.step.Number, w.step.Do, fmt.Sprintf(format, args...))
	}
}

// note puts something into the trace by which two runs are compared.
func (w *World) note(what string, data []byte) {
	var size [8]byte
	binary.BigEndian.PutUint64(size[:], uint64(len(data)))
	w.trace.Write([]byte(what))
	w.trace.Write(size[:])
	w.trace.Write(data)
}

// Result is what came of a run.
type Result struct {
	Failure *Failure // nil if every promise was kept
	Counts  Counts
	// Trace hashes everything that happened, bytes on the links included.
	Trace [32]byte
	// Outcome is what the laptops hold in the end and what they make of it, by
	// numbers instead of hashes, so that it can be compared across clocks.
	Outcome string
	Entries int
	Sent    int
}

// Run follows a plan.
func Run(p Plan, o Options) Result {
	w := newWorld(p, o)
	w.found()
	for _, s := range p.Steps {
		if w.failure != nil {
			break
		}
		w.step = s
		w.ticks++
		kindNamed(s.Do)(w, s.dice())
		w.settle()
		w.check()
	}
	if w.failure == nil {
		w.end()
	}
	r := Result{Failure: w.failure, Counts: w.count, Entries: len(w.written.order), Sent: w.sent}
	if w.failure == nil && o.Outcome {
		r.Outcome = w.outcome()
		r.Failure = w.failure
	}
	for _, l := range w.laptops {
		l.disk.Gone()
	}
	if err := w.folders.remove(); err != nil && r.Failure == nil {
		r.Failure = &Failure{Step: w.step, What: err.Error()}
	}
	w.trace.Sum(r.Trace[:0])
	return r
}

func newWorld(p Plan, o Options) *World {
	return &World{
		plan: p, options: o, count: Counts{}, written: newWritten(), folders: &folders{parent: o.Folder},
		isles: map[*Laptop]int{}, states: map[digest]merge.StateHash{}, models: map[digest]reading{}, late: map[*mergetest.Fact]bool{}, trace: sha256.New(), step: Step{Number: -1, Do: "founding"},
	}
}

// settle does what has been put off.
func (w *World) settle() {
	for len(w.later) > 0 && w.failure == nil {
		next := w.later[0]
		w.later = w.later[1:]
		next()
	}
	w.sweep()
}

// rootLog is the staff's root, which is on paper and holds its own log.
type rootLog struct {
	writer entry.Writer
	run    entry.Run
}

// found makes the root, whose log grants one or two directors; these admit the
// others, and everybody knows of everybody.
func (w *World) found() {
	d := newDice(w.plan.Seed, 3)
	random := chance(w.plan.Seed, 0)
	key := newKey(random)
	w.staff = entry.StaffOf(key.Public().(ed25519.PublicKey))
	w.root = &rootLog{writer: entry.Writer{Staff: w.staff, Key: key, Random: random}}
	w.root.run = entry.Run{After: entry.Point{Hash: entry.Origin(w.staff)}}
	first, err := w.root.writer.Open(true, nil, 0, 0)
	w.must(err)
	w.root.run.Log, w.root.run.Entries = w.root.writer.Log, []entry.Entry{first}
	linkKey := foundingKey(random)
	w.rootWrites(entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Hash: keyHash(linkKey)}})
	for n := range w.plan.Laptops {
		l := w.newLaptop(n < len(w.plan.Databases) && w.plan.Databases[n])
		l.ring.keys = [][32]byte{linkKey}
		w.laptops = append(w.laptops, l)
	}
	w.records = w.drawRecords()
	directors := 1 + d.IntN(2)
	for i, l := range w.laptops {
		if i < directors || d.one(6) {
			l.start()
			l.certificate = w.rootGrants(l, entry.RoleDirector, 0)
		}
	}
	chief := w.laptops[0]
	w.rootSpeaks(chief)
	for _, l := range w.laptops[1:] {
		if l.certificate == nil {
			w.admit(d, chief, l, d.one(5), nil)
		}
	}
	for _, l := range w.laptops[1:] {
		l.start()
		w.introduce(chief, l)
	}
	if d.one(2) {
		for i, a := range w.laptops {
			for _, b := range w.laptops[:i] {
				w.connect(a, b)
			}
		}
	}
	w.settle()
	w.check()
}

// chance is a source of randomness for keys, nonces and salts.
func chance(seed uint64, stream int) io.Reader {
	var key [32]byte
	binary.BigEndian.PutUint64(key[:], seed)
	binary.BigEndian.PutUint64(key[8:], uint64(stream))
	return rand.NewChaCha8(key)
}

func newKey(random io.Reader) ed25519.PrivateKey {
	seed := make([]byte, ed25519.SeedSize)
	_, _ = io.ReadFull(random, seed) // documented never to fail
	return ed25519.NewKeyFromSeed(seed)
}

// fact returns an entry that was written, by what it is called.
func (w *World) fact(id entry.ID) *mergetest.Fact {
	for _, f := range w.written.at[seat{id.Log, id.Seq}] {
		if f.ID == id {
			return f
		}
	}
	return nil
}

var background = context.Background()

package sim

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"

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
	due     cost
	ends    int // links that ended
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

// fact returns an entry that was written, by what it is called.
func (w *World) fact(id entry.ID) *mergetest.Fact {
	for _, f := range w.written.at[seat{id.Log, id.Seq}] {
		if f.ID == id {
			return f
		}
	}
	return nil
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

var background = context.Background()

package sim

import (
	"fmt"
	"io"
)

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
		w.tryAgain()
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

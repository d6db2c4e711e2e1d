package sim

import (
	"errors"
	"fmt"

	"plumbline/storage"
)

// faults are what a disk will do wrong. The zero value is a disk that works.
type faults struct {
	// crash counts down the moments of writing until the power fails; 0: never.
	crash int
	// failing is how many more operations fail.
	failing int
	kind    error
	// late lets a write fail after it has begun.
	late bool
	// count is where what happened is noted.
	count Counts
}

// moment is one at which the power may fail. It reports whether it does.
func (f *faults) moment(where string) bool {
	if f.crash == 0 {
		return false
	}
	if f.crash--; f.crash > 0 {
		return false
	}
	f.count.add("crash " + where)
	return true
}

// fails returns the error of an operation that fails.
func (f *faults) fails(doing string) error {
	if f.failing == 0 {
		return nil
	}
	f.failing--
	f.count.add("disk error")
	return fmt.Errorf("%s: %w", doing, f.kind)
}

// failsReading is fails for what only reads: nothing of that needs to be made durable.
func (f *faults) failsReading(doing string) error {
	err := f.fails(doing)
	if errors.Is(err, storage.ErrUnsynced) {
		err = fmt.Errorf("%s: %w", doing, storage.ErrDisk)
	}
	return err
}

// diskErrors are the ways in which a disk refuses. Of what it took and didn't make
// durable the open store has nothing, but whoever opens it after a loss of power may,
// as long as nothing else was written since.
var diskErrors = []error{storage.ErrFull, storage.ErrDisk, storage.ErrUnsynced}

// unconfirmed is noted where a disk turns out to have what it didn't confirm.
const unconfirmed = "unconfirmed write kept"

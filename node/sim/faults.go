package sim

import (
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

// diskErrors are the ways in which a disk refuses.
var diskErrors = []error{storage.ErrFull, storage.ErrDisk}

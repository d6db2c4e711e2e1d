package node

import (
	"errors"
	"fmt"
)

// Reasons why a node refuses. Package rpc gives each a wire code; what a
// person reads is the sentence around it, which says what, where and what to
// do.
var (
	// ErrNotFound is returned when a name or id fits no record, person or laptop.
	ErrNotFound = errors.New("not found")
	// ErrAmbiguous is returned when a name or prefix fits several.
	ErrAmbiguous = errors.New("ambiguous")
	// ErrInvalid is returned when input breaks a rule of the schema.
	ErrInvalid = errors.New("invalid")
	// ErrUnseen is returned when a field has values that the writer didn't name.
	ErrUnseen = errors.New("the field has values")
	// ErrDisputed is returned when a field is in conflict and must be settled.
	ErrDisputed = errors.New("in conflict")
	// ErrUnasked is returned when something would hand out or end rights that nobody
	// asked for.
	ErrUnasked = errors.New("rights that weren't asked for")
	// ErrRights is returned when this laptop may not write that.
	ErrRights = errors.New("not allowed")
	// ErrNoStaff is returned before a staff was founded or joined.
	ErrNoStaff = errors.New("no staff yet")
	// ErrHasStaff is returned when a laptop that has a staff is to found or join one.
	ErrHasStaff = errors.New("has a staff already")
	// ErrNoKey is returned when the folder was restored without its device key.
	ErrNoKey = errors.New("this copy can only be read")
	// ErrLost is returned when this laptop belongs to a staff and its database
	// holds nothing: it was removed, or replaced by an empty one.
	ErrLost = errors.New("the records are gone from this laptop")
	// ErrInUse is returned when another process has the data folder open.
	ErrInUse = errors.New("data folder in use")
	// ErrExists is returned when a file that is to be written exists.
	ErrExists = errors.New("exists already")
	// ErrFull is returned when the disk is full.
	ErrFull = errors.New("disk full")
	// ErrPairing is returned when pairing fails.
	ErrPairing = errors.New("pairing failed")
	// ErrNewer is returned when the staff's entries need a newer program.
	ErrNewer = errors.New("needs a newer plumbline")
)

// refuse words a refusal: the sentence that a person reads, around the reason
// that a program tests for.
func refuse(reason error, format string, args ...any) error {
	return &refusal{reason: reason, sentence: fmt.Sprintf(format, args...)}
}

// invalid refuses what breaks a rule of the schema, and keeps which one.
func invalid(cause error) error {
	return &refusal{reason: fmt.Errorf("%w: %w", ErrInvalid, cause), sentence: cause.Error()}
}

type refusal struct {
	reason   error
	sentence string
}

func (r *refusal) Error() string { return r.sentence }
func (r *refusal) Unwrap() error { return r.reason }

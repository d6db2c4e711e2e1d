package merge

import (
	"math"

	"plumbline/sync/entry"
)

// Standing is what a log may do, as judged from the control entries held.
type Standing struct {
	Certificate entry.Certificate
	// Root is set for a log of the staff's root.
	Root bool
	// Control is set for a log of control entries.
	Control bool
	// Granted reports whether a grant that counts carries the certificate.
	Granted bool
	// Limits are the cuts that bind the log.
	Limits []Limit
}

// Limit is what one cut leaves of a log.
type Limit struct {
	Cut    entry.ID
	Beyond entry.Beyond
	// Heads are the last accepted entries, those held. A head that isn't held
	// yet accepts nothing, so its log waits for it.
	Heads []Place
}

// Span says how far along a branch rights reach. Entries up to Full have the
// certificate's rights, from there up to Scout a scout's, beyond none.
type Span struct {
	Full  uint64
	Scout uint64
}

// everything is the span of a branch that nothing limits.
const everything = math.MaxUint64

// Span returns how far the log's rights reach along one of its branches.
func (s Standing) Span(t *Tree, b Branch) Span {
	if !s.Granted && !s.Root {
		return Span{}
	}
	span := Span{everything, everything}
	for _, limit := range s.Limits {
		upto := uint64(0)
		for _, head := range limit.Heads {
			upto = max(upto, t.Upto(b, head))
		}
		span.Full = min(span.Full, upto)
		if limit.Beyond == entry.BeyondNothing {
			span.Scout = min(span.Scout, upto)
		}
	}
	return span
}

// Status says what became of an entry.
type Status byte

// What can become of an entry. All of them are kept and relayed.
const (
	Applied  Status = 1 // it counts
	SetAside Status = 2 // its log has no standing there: beyond a cut, or never granted
	NoRight  Status = 3 // its author may not write to that record
	Erased   Status = 4 // a director's erasure names it
	Unread   Status = 5 // of a kind newer than this program
)

// Status judges one entry by its place, record and body.
func (s Standing) Status(span Span, seq uint64, record entry.RecordID, kind entry.BodyKind) Status {
	if seq > max(span.Full, span.Scout) {
		return SetAside
	}
	role := s.Certificate.Role
	if seq > span.Full {
		role = entry.RoleScout
	}
	switch {
	case kind == entry.KindGenesis:
		return Applied
	case isControl(kind) || record == "":
		if s.Control && (s.Root || role == entry.RoleDirector) {
			return Applied
		}
		return NoRight
	case s.Control || s.Root || !allowed(role, s.Certificate.Person, record):
		return NoRight
	case kind != entry.KindChanges && kind != entry.KindRetirement && kind != entry.KindKeep:
		return Unread
	}
	return Applied
}

func isControl(kind entry.BodyKind) bool {
	return kind >= entry.KindGrant && kind <= entry.KindLinkKey
}

// allowed says who may write what: rights come from the record's identifier
// and the log's certificate alone, so that each laptop judges alike, also
// about kinds that it doesn't know.
func allowed(role entry.Role, person entry.PersonID, record entry.RecordID) bool {
	switch record.Class() {
	case entry.Owned:
		return record.Person() == person
	case entry.Shared:
		return true
	case entry.Directors:
		return role == entry.RoleDirector
	}
	return false
}

// MayWrite reports whether a certificate allows a write to a record. A node
// asks before it writes; receivers judge by [Standing.Status].
func MayWrite(c entry.Certificate, record entry.RecordID) bool {
	return allowed(c.Role, c.Person, record)
}

package merge

import (
	"slices"

	"plumbline/sync/entry"
)

// Retirement is an applied retirement of a record.
type Retirement struct {
	*Origin
	entry.Retirement
}

// Visibility says whether a record is shown.
type Visibility byte

// A record is visible unless it is retired. It stays visible, and is listed as
// disputed, while something was written that no retirement had read.
const (
	Visible  Visibility = 0
	Hidden   Visibility = 1
	Disputed Visibility = 2
)

func (r *Record) retire(t Retirement) {
	i, have := slices.BinarySearchFunc(r.Retirements, t, func(a, b Retirement) int { return a.compare(b.Origin) })
	if !have {
		r.Retirements = slices.Insert(r.Retirements, i, t)
	}
}

func (r *Record) keep(o *Origin) {
	i, have := slices.BinarySearchFunc(r.Keeps, o, (*Origin).compare)
	if !have {
		r.Keeps = slices.Insert(r.Keeps, i, o)
	}
}

// History tells how entries hang together. A head that isn't held has nothing
// before it.
type History interface {
	Before(at, head entry.ID) bool
}

// LiveRetirements returns the retirements that no keep answers. A keep beats
// those that hadn't seen it; one that had read the keep stands.
func (r *Record) LiveRetirements(h History) []Retirement {
	var live []Retirement
	for _, t := range r.Retirements {
		beaten := slices.ContainsFunc(r.Keeps, func(k *Origin) bool { return !t.read(k.ID, h) })
		if !beaten {
			live = append(live, t)
		}
	}
	return live
}

// Visibility judges the record. written yields every applied write on it and,
// transitively, on the records that refer to it. Same-as statements can't be
// retired.
func (r *Record) Visibility(h History, written func(yield func(entry.ID) bool)) Visibility {
	if r.ID.Kind() == entry.KindSameAs {
		return Visible
	}
	live := r.LiveRetirements(h)
	if len(live) == 0 {
		return Visible
	}
	for id := range written {
		if !slices.ContainsFunc(live, func(t Retirement) bool { return t.read(id, h) }) {
			return Disputed
		}
	}
	return Hidden
}

func (t Retirement) read(id entry.ID, h History) bool { return HadRead(t.Retirement, id, h) }

// HadRead reports whether a retirement's author had read the entry: it lies at
// or before one of the heads and wasn't set aside at that time.
func HadRead(r entry.Retirement, id entry.ID, h History) bool {
	return !slices.Contains(r.SetAside, id) && slices.ContainsFunc(r.Heads, func(head entry.ID) bool {
		return head.Log == id.Log && (head == id || h.Before(id, head))
	})
}

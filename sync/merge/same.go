package merge

import (
	"cmp"
	"slices"

	"plumbline/sync/entry"
)

// The fields of a same-as record.
const (
	SameVerdict uint32 = 1 // whether the two records are the same thing
	SameFirst   uint32 = 2
	SameSecond  uint32 = 3
)

// Yes and No are the bytes of the verdict's value.
var (
	Yes = []byte{1}
	No  = []byte{0}
)

// Pair is what is known of two records being one.
type Pair struct {
	A, B entry.RecordID
	// Same is set when every live verdict is yes, Apart when every one is no.
	// Neither is set while the verdicts dispute each other.
	Same, Apart bool
}

// ReadPair reads a same-as record; false when it doesn't name two records.
func ReadPair(r *Record) (Pair, bool) {
	a, okA := reference(r, SameFirst)
	b, okB := reference(r, SameSecond)
	if !okA || !okB || r.ID != entry.SameAsID(a, b) {
		return Pair{}, false
	}
	p := Pair{A: min(a, b), B: max(a, b)}
	reg := r.Find(entry.Register{Field: SameVerdict})
	if reg == nil || len(reg.Live) == 0 || reg.Conflict() {
		return p, true
	}
	v, ok := reg.Shown()
	ok = ok && v.Op == entry.OpValue
	p.Same = ok && slices.Equal(v.Data, Yes)
	p.Apart = ok && slices.Equal(v.Data, No)
	return p, true
}

func reference(r *Record, field uint32) (entry.RecordID, bool) {
	reg := r.Find(entry.Register{Field: field})
	if reg == nil {
		return "", false
	}
	v, ok := reg.Shown()
	id := entry.RecordID(v.Data)
	return id, ok && v.Op == entry.OpReference && id.Valid()
}

// Groups says which records are one. A group is a connected component of
// undisputed yes verdicts; its lowest identifier speaks for it.
type Groups struct {
	leader  map[entry.RecordID]entry.RecordID
	members map[entry.RecordID][]entry.RecordID
	// Torn lists pairs with an undisputed no inside one group.
	Torn []Pair
}

// Join builds the groups.
func Join(pairs []Pair) *Groups {
	g := &Groups{leader: map[entry.RecordID]entry.RecordID{}, members: map[entry.RecordID][]entry.RecordID{}}
	for _, p := range pairs {
		if p.Same {
			g.union(p.A, p.B)
		}
	}
	for id := range g.leader {
		top := g.find(id) // also makes every later look-up one step
		g.members[top] = append(g.members[top], id)
	}
	for _, m := range g.members {
		slices.Sort(m)
	}
	for _, p := range pairs {
		if p.Apart && g.Leader(p.A) == g.Leader(p.B) {
			g.Torn = append(g.Torn, p)
		}
	}
	slices.SortFunc(g.Torn, func(a, b Pair) int { return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B)) })
	return g
}

func (g *Groups) union(a, b entry.RecordID) {
	a, b = g.find(a), g.find(b)
	g.leader[max(a, b)] = min(a, b)
}

func (g *Groups) find(id entry.RecordID) entry.RecordID {
	up, ok := g.leader[id]
	if !ok {
		g.leader[id] = id
		return id
	}
	if up == id {
		return id
	}
	top := g.find(up)
	g.leader[id] = top
	return top
}

// Leader returns who speaks for a record: itself when it isn't joined.
func (g *Groups) Leader(id entry.RecordID) entry.RecordID {
	for {
		up, ok := g.leader[id]
		if !ok || up == id {
			return id
		}
		id = up
	}
}

// Joined reports whether a record is one with others.
func (g *Groups) Joined(id entry.RecordID) bool { _, ok := g.leader[id]; return ok }

// Members returns the records of a group, in order; just the record itself
// when it isn't joined.
func (g *Groups) Members(leader entry.RecordID) []entry.RecordID {
	if m := g.members[leader]; len(m) > 0 {
		return m
	}
	return []entry.RecordID{leader}
}

// Union returns the registers of several records as one, for reading: all
// live values of each. It is never stored, and nothing replaces across records.
func Union(leader entry.RecordID, records []*Record) *Record {
	if len(records) == 1 {
		return records[0]
	}
	all := &Record{ID: leader}
	for _, r := range records {
		for _, reg := range r.Registers {
			into := all.Register(reg.Register)
			into.Live = append(into.Live, reg.Live...)
		}
	}
	for _, reg := range all.Registers {
		slices.SortFunc(reg.Live, func(a, b Value) int { return b.compare(a.Origin) })
	}
	return all
}

// Leaders returns the records that speak for groups of several, in order.
func (g *Groups) Leaders() []entry.RecordID {
	var leaders []entry.RecordID
	for id, members := range g.members {
		if len(members) > 1 {
			leaders = append(leaders, id)
		}
	}
	slices.Sort(leaders)
	return leaders
}

package node

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"plumbline/node/measure"
	"plumbline/node/record"
	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// tally gathers what refers to a prospect.
type tally struct {
	looks, won, lost, even, evaluations, filed int64
	overall, projected                         mean
	grades                                     map[string]*mean
	// latest is each scout's last word: an opinion that changed counts once.
	latest      map[entry.PersonID]storage.Shown
	lamport     func(entry.RecordID) uint64
	measures    map[measure.What]*recordv1.Reading
	seen, flags map[string]bool
}

type mean struct{ sum, n float64 }

func (m *mean) add(v float64) { m.sum, m.n = m.sum+v, m.n+1 }

func (t *tally) add(is storage.Shown) {
	switch is.ID.Kind() {
	case record.Look:
		t.looks++
		t.seen[is.ID.Person().String()] = true
	case record.Rep:
		t.rep(is)
	case record.Evaluation:
		t.evaluated(is)
	case record.Measurement:
		t.measurement(is)
	case record.Flag:
		if about, ok := figure(is, "about"); ok {
			t.flags[fmt.Sprint(about)] = true
		}
	}
}

// figure is what a field shows as expressions see it; false for nothing, and for
// what can't be read.
func figure(is storage.Shown, field string) (any, bool) {
	reg := record.Must(is.ID.Kind(), field)
	v, ok := is.Value(reg.Address())
	if !ok {
		return nil, false
	}
	plain, err := reg.Native(record.Value{Op: v.Op, Bytes: v.Value})
	return plain, err == nil
}

func (t *tally) rep(is storage.Shown) {
	result, _ := figure(is, "result")
	switch result {
	case "won":
		t.won++
	case "lost":
		t.lost++
	case "even":
		t.even++
	}
}

// evaluated counts an evaluation and keeps it if it is its scout's latest.
func (t *tally) evaluated(is storage.Shown) {
	person := is.ID.Person()
	t.evaluations++
	t.seen[person.String()] = true
	if _, ok := figure(is, "filed"); ok {
		t.filed++
	}
	have, ok := t.latest[person]
	if !ok || cmp.Or(cmp.Compare(t.lamport(is.ID), t.lamport(have.ID)), cmp.Compare(is.ID, have.ID)) > 0 {
		t.latest[person] = is
	}
}

func (t *tally) grade(is storage.Shown) {
	if v, ok := figure(is, "overall"); ok {
		t.overall.add(float64(v.(int64)))
	}
	if v, ok := figure(is, "projected"); ok {
		t.projected.add(float64(v.(int64)))
	}
	for v := range is.Values() {
		known, ok := register(is.ID, v.Register)
		if !ok || known.Field != gradesField {
			continue
		}
		if plain, err := known.Native(record.Value{Op: v.Op, Bytes: v.Value}); err == nil {
			if t.grades == nil {
				t.grades = map[string]*mean{}
			}
			if t.grades[known.Key] == nil {
				t.grades[known.Key] = &mean{}
			}
			t.grades[known.Key].add(float64(plain.(int64)))
		}
	}
}

// measurement keeps the number that outranks the others: verified over
// estimated over listed, then the newer one (common practice, no source); a tie
// goes to the larger number, so that every laptop shows the same. One that is none of
// what was measured counts for nothing.
func (t *tally) measurement(is storage.Shown) {
	m := &recordv1.Measurement{}
	for _, field := range []string{"what", "reading"} {
		reg := record.Must(record.Measurement, field)
		v, ok := is.Value(reg.Address())
		if !ok || reg.Set(m, record.Value{Op: v.Op, Bytes: v.Value}) != nil {
			return
		}
	}
	what, have := measure.What(m.GetWhat()), t.measures[measure.What(m.GetWhat())]
	if !record.Counts(what, m.GetReading()) {
		return
	}
	if have == nil || outranks(m.GetReading(), have) {
		t.measures[what] = m.GetReading()
	}
}

// trust orders sources; a number without one counts least.
var trust = map[recordv1.Source]int{
	recordv1.Source_SOURCE_LISTED: 1, recordv1.Source_SOURCE_ESTIMATED: 2, recordv1.Source_SOURCE_VERIFIED: 3,
}

func outranks(a, b *recordv1.Reading) bool {
	return cmp.Or(
		cmp.Compare(trust[a.GetSource()], trust[b.GetSource()]),
		strings.Compare(a.GetDate(), b.GetDate()),
		cmp.Compare(a.GetAmount(), b.GetAmount()),
	) > 0
}

func (t *tally) fill(s *summary) {
	reps := t.won + t.lost + t.even
	for _, id := range slices.SortedFunc(maps.Keys(t.latest), comparePersons) {
		t.grade(t.latest[id])
	}
	for name, count := range map[string]int64{
		"looks": t.looks, "reps": reps, "won": t.won, "lost": t.lost, "even": t.even, "evaluations": t.evaluations, "filed": t.filed,
	} {
		s.Vars[name] = count
	}
	if reps > 0 {
		s.Vars["won_share"] = float64(t.won) / float64(reps)
	}
	for name, m := range map[string]mean{"overall": t.overall, "projected": t.projected} {
		if m.n > 0 {
			s.Vars[name] = m.sum / m.n
		}
	}
	grades := map[string]any{}
	for factor, m := range t.grades {
		grades[factor] = m.sum / m.n
	}
	s.Vars["grades"], s.Vars["flags"], s.SeenBy = grades, texts(sortedKeys(t.flags)), sortedKeys(t.seen)
	for what, reading := range t.measures {
		s.Vars[what.String()] = measure.Number(what, reading.GetAmount())
		s.Texts[what.String()] = measure.Format(what, reading.GetAmount())
		if reading.Source != nil {
			s.Vars[what.String()+"_source"] = sourceName(reading.GetSource())
		}
	}
}

func sourceName(s recordv1.Source) string {
	return strings.ToLower(strings.TrimPrefix(s.String(), "SOURCE_"))
}

func texts(names []string) []any {
	list := make([]any, len(names))
	for i, name := range names {
		list[i] = name
	}
	return list
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// comparePersons gives one order, so that sums come out alike on every laptop.
func comparePersons(a, b entry.PersonID) int { return bytes.Compare(a[:], b[:]) }

package node

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/measure"
	"plumbline/node/query"
	"plumbline/node/record"
	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/sync/entry"
	"plumbline/sync/merge"

	"cel.dev/cel-go/cel"
)

// summary is what is worked out from a prospect and all that refers to it. It
// is kept in the database and made anew when any of that changes.
type summary struct {
	// Vars holds the names that expressions use, missing ones left out.
	Vars map[string]any `json:"vars"`
	// Texts holds those that people write in another way than as a number.
	Texts  map[string]string `json:"texts,omitempty"`
	Hidden bool              `json:"hidden,omitempty"`
}

// figures are the names that expressions may use besides a prospect's fields.
var figures = prospectFigures()

func prospectFigures() query.Fields {
	f := query.Fields{
		"looks": {Type: cel.IntType}, "reps": {Type: cel.IntType}, "won": {Type: cel.IntType}, "lost": {Type: cel.IntType},
		"even": {Type: cel.IntType}, "won_share": {Type: cel.DoubleType}, "evaluations": {Type: cel.IntType}, "filed": {Type: cel.IntType},
		"overall": {Type: cel.DoubleType}, "projected": {Type: cel.DoubleType}, "grades": {Type: cel.MapType(cel.StringType, cel.DoubleType)},
		"seen_by": {Type: cel.ListType(cel.StringType)}, "flags": {Type: cel.ListType(cel.StringType)}, "conflicts": {Type: cel.IntType},
	}
	for _, w := range measure.All() {
		f[w.String()] = query.Field{Type: cel.DoubleType}
		f[w.String()+standingSuffix] = query.Field{Type: cel.DoubleType}
		f[w.String()+cohortSuffix] = query.Field{Type: cel.IntType}
		f[w.String()+"_source"] = query.Field{Type: cel.StringType, Values: []string{"listed", "estimated", "verified"}}
	}
	return f
}

// figureHelp explains the figures to people.
var figureHelp = map[string]string{
	"looks": "how many looks there are", "reps": "how many reps with a result were charted", "won": "reps won", "lost": "reps lost",
	"even": "reps even", "won_share": "reps won of all with a result; missing without reps", "evaluations": "how many evaluations there are",
	"filed": "how many of them are filed", "overall": "mean overall grade, 1 to 9, not corrected for hard and easy graders",
	"projected": "mean projected grade, 1 to 9", "grades": "mean grade of each factor: grades.hand_use", "seen_by": "who had a look or wrote an evaluation",
	"flags": "medical, character, eligibility: something to ask about", "conflicts": "fields in conflict",
}

func (r *reader) summarize(g group) summary {
	s := summary{Vars: map[string]any{}, Texts: map[string]string{}, Hidden: g.visibility() == merge.Hidden}
	r.fields(g, s.Vars)
	s.Vars["conflicts"] = int64(len(g.union.Conflicts()))
	t := tally{reader: r, measures: map[measure.What]*recordv1.Reading{}, seen: map[string]bool{}, flags: map[string]bool{}}
	for _, id := range r.related(g, cmp.Compare[entry.RecordID]) {
		if row, ok := r.row(id); ok && row.Info.Visibility != merge.Hidden {
			t.add(row.Record)
		}
	}
	t.fill(s)
	return s
}

// fields puts the shown value of each field under its name.
func (r *reader) fields(g group, vars map[string]any) {
	for _, reg := range g.union.Registers {
		known, ok := register(g.leader, reg.Register)
		v, shown := reg.Shown()
		if !ok || !shown {
			continue
		}
		plain, err := known.Native(record.Value{Op: v.Op, Bytes: v.Data})
		if err != nil {
			continue
		}
		if id := entry.RecordID(v.Data); v.Op == entry.OpReference && id.Valid() {
			plain = r.title(id)
		}
		if !known.Field.IsMap() {
			vars[known.Field.Name] = plain
			continue
		}
		keys, ok := vars[known.Field.Name].(map[string]any)
		if !ok {
			keys = map[string]any{}
			vars[known.Field.Name] = keys
		}
		keys[known.Key] = plain
	}
}

// tally gathers what refers to a prospect.
type tally struct {
	*reader
	looks, won, lost, even, evaluations, filed int64
	overall, projected                         mean
	grades                                     map[string]*mean
	measures                                   map[measure.What]*recordv1.Reading
	seen, flags                                map[string]bool
}

type mean struct{ sum, n float64 }

func (m *mean) add(v float64) { m.sum, m.n = m.sum+v, m.n+1 }

func (t *tally) add(r *merge.Record) {
	switch r.ID.Kind() {
	case record.Look:
		t.looks++
		t.seen[t.personName(r.ID.Person())] = true
	case record.Rep:
		t.rep(r)
	case record.Evaluation:
		t.evaluation(r)
	case record.Measurement:
		t.measurement(r)
	case record.Flag:
		if about, ok := native(r, "about"); ok {
			t.flags[fmt.Sprint(about)] = true
		}
	}
}

func native(r *merge.Record, field string) (any, bool) {
	reg := record.Must(r.ID.Kind(), field)
	v, ok := shownValue(r, reg)
	if !ok {
		return nil, false
	}
	plain, err := reg.Native(v)
	return plain, err == nil
}

func (t *tally) rep(r *merge.Record) {
	result, _ := native(r, "result")
	switch result {
	case "won":
		t.won++
	case "lost":
		t.lost++
	case "even":
		t.even++
	}
}

func (t *tally) evaluation(r *merge.Record) {
	t.evaluations++
	t.seen[t.personName(r.ID.Person())] = true
	if _, ok := native(r, "filed"); ok {
		t.filed++
	}
	if v, ok := native(r, "overall"); ok {
		t.overall.add(float64(v.(int64)))
	}
	if v, ok := native(r, "projected"); ok {
		t.projected.add(float64(v.(int64)))
	}
	grades := record.Must(record.Evaluation, "grades.any").Field
	for _, reg := range r.Registers {
		known, ok := register(r.ID, reg.Register)
		v, shown := reg.Shown()
		if !ok || !shown || known.Field != grades {
			continue
		}
		if plain, err := known.Native(record.Value{Op: v.Op, Bytes: v.Data}); err == nil {
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
// goes to the larger number, so that every laptop shows the same.
func (t *tally) measurement(r *merge.Record) {
	m := &recordv1.Measurement{}
	for _, field := range []string{"what", "reading"} {
		reg := record.Must(record.Measurement, field)
		v, ok := shownValue(r, reg)
		if !ok || reg.Set(m, v) != nil {
			return
		}
	}
	what, have := measure.What(m.GetWhat()), t.measures[measure.What(m.GetWhat())]
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

func (t *tally) fill(s summary) {
	reps := t.won + t.lost + t.even
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
	s.Vars["grades"], s.Vars["seen_by"], s.Vars["flags"] = grades, texts(t.seen), texts(t.flags)
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

func texts(set map[string]bool) []any {
	names := sortedKeys(set)
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

// decodeSummary reads a stored summary. JSON has one kind of number; here
// whole ones are whole, so that expressions see the type that was declared.
func decodeSummary(data []byte) (summary, error) {
	var s summary
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	if err := d.Decode(&s); err != nil {
		return s, fmt.Errorf("summary: %w", err)
	}
	declared := fieldsOf(record.Prospect)
	for name, v := range s.Vars {
		s.Vars[name] = plainNumbers(v, declared[name].Type)
	}
	return s, nil
}

func plainNumbers(v any, declared *cel.Type) any {
	switch v := v.(type) {
	case json.Number:
		if declared.IsExactType(cel.IntType) {
			if n, err := v.Int64(); err == nil {
				return n
			}
		}
		f, _ := v.Float64() // it was written by encoding/json
		return f
	case map[string]any:
		for k, item := range v {
			v[k] = plainNumbers(item, cel.DoubleType)
		}
	}
	return v
}

// refresh makes anew the summaries of what changed since they were made.
func (n *Node) refresh(r *reader) error {
	stale, mark, err := n.store.StaleSummaries(r.ctx)
	if err != nil || len(stale) == 0 {
		return err
	}
	made := map[entry.RecordID][]byte{}
	for _, id := range stale {
		leader := r.groups.Leader(id)
		made[id] = nil
		if _, done := made[leader]; done && leader != id {
			continue
		}
		g, ok := r.group(leader)
		if !ok {
			continue
		}
		if made[leader], err = json.Marshal(r.summarize(g)); err != nil {
			return err
		}
		// A season's reps don't fit into memory at once.
		clear(r.rows)
	}
	if r.err != nil {
		return r.err
	}
	return n.store.PutSummaries(r.ctx, mark, made)
}

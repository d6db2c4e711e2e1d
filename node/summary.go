package node

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"sync"

	"plumbline/node/measure"
	"plumbline/node/query"
	"plumbline/node/record"
	recordv1 "plumbline/proto/plumbline/record/v1"
	"plumbline/storage"
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
	Texts map[string]string `json:"texts,omitempty"`
	// SeenBy holds people by their ids: what they are called may change, or
	// come over later than what they wrote.
	SeenBy []string `json:"seen_by,omitempty"`
	Hidden bool     `json:"hidden,omitempty"`
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
	r.fields(g, s.Vars, nil)
	s.Vars["conflicts"] = int64(len(g.union.Conflicts()))
	t := tally{measures: map[measure.What]*recordv1.Reading{}, seen: map[string]bool{}, flags: map[string]bool{}, latest: map[entry.PersonID]storage.Shown{}, lamport: r.lamport}
	under, children := r.shownUnder(g)
	for _, id := range downFrom(g, children, cmp.Compare[entry.RecordID]) {
		if is := under[id]; is.Visibility != merge.Hidden {
			t.add(is)
		}
	}
	t.fill(&s)
	return s
}

// lamport is the highest time of what was written to a record.
func (r *reader) lamport(id entry.RecordID) uint64 {
	row, _ := r.row(id)
	return row.Info.Lamport
}

// shownUnder is [reader.under] for figures: reading what a season's reps show, and
// nothing else of them, takes half the time.
func (r *reader) shownUnder(g group) (under map[entry.RecordID]storage.Shown, children map[entry.RecordID][]entry.RecordID) {
	under, children = map[entry.RecordID]storage.Shown{}, map[entry.RecordID][]entry.RecordID{}
	for _, m := range g.members {
		err := r.n.store.ShownUnder(r.ctx, m.ID, func(is storage.Shown) {
			if _, twice := under[is.ID]; twice || !isUnder(is.ID) {
				return
			}
			under[is.ID] = is
			for _, to := range is.References() {
				children[to] = append(children[to], is.ID)
			}
		})
		if err != nil {
			r.fail(err)
		}
	}
	return under, children
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
	declared := prospectFields()
	for name, v := range s.Vars {
		s.Vars[name] = plainNumbers(v, declared[name].Type)
	}
	return s, nil
}

// prospectFields are the names that expressions over prospects may use.
var prospectFields = sync.OnceValue(func() query.Fields { return fieldsOf(record.Prospect) })

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

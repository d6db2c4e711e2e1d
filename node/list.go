package node

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"plumbline/node/measure"
	"plumbline/node/near"
	"plumbline/node/query"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"

	"cel.dev/cel-go/cel"
)

// listed is one record on its way into a listing.
type listed struct {
	id        entry.RecordID
	title     string
	vars      map[string]any
	texts     map[string]string
	conflicts int
}

// fieldsOf returns the names that expressions over a kind may use.
func fieldsOf(kind entry.Kind) query.Fields {
	k, ok := record.Stored().Kind(kind)
	if !ok {
		return query.Fields{}
	}
	own := query.Fields{"conflicts": {Type: cel.IntType}}
	if k.Class == entry.Owned {
		own["by"] = query.Field{Type: cel.StringType}
	}
	all := query.Declare(k).Add(own)
	if kind == record.Prospect {
		all = all.Add(figures)
	}
	return all
}

// usual are the columns of a listing that names none.
var usual = map[entry.Kind][]string{
	record.Prospect: {"name", "position", "school", "class_year", "height", "weight", "arm", "overall", "evaluations", "looks", "reps", "won_share"},
}

// List returns the records of a kind that match, in an order that every laptop
// agrees on.
func (n *Node) List(ctx context.Context, q ListQuery) (Listing, error) {
	k, err := record.Stored().KindByName(cmp.Or(q.Kind, "prospect"))
	if err != nil {
		return Listing{}, refuse(ErrInvalid, "%v", err)
	}
	fields := fieldsOf(k.Number)
	columns, err := columnsOf(k, fields, q)
	if err != nil {
		return Listing{}, err
	}
	keep, uses, err := n.filter(ctx, k, fields, q)
	if err != nil {
		return Listing{}, err
	}
	r := n.reader(ctx)
	rows, err := r.load(k, q.Hidden, keep, standingsIn(slices.Concat(columns, q.Sort, uses)))
	if err != nil {
		return Listing{}, err
	}
	sortRows(rows, q.Sort, k)
	l := Listing{Columns: columns, Total: len(rows)}
	if q.Limit > 0 && q.Limit < len(rows) {
		rows = rows[:q.Limit]
	}
	for _, row := range rows {
		l.Rows = append(l.Rows, row.show(columns))
	}
	return l, r.err
}

func columnsOf(k *record.Kind, fields query.Fields, q ListQuery) ([]string, error) {
	columns := q.Columns
	if len(columns) == 0 {
		columns = usual[k.Number]
	}
	if len(columns) == 0 {
		for _, f := range k.Fields() {
			if !f.IsText() {
				columns = append(columns, f.Name)
			}
		}
	}
	for _, name := range slices.Concat(columns, q.Sort) {
		base, _, _ := strings.Cut(strings.TrimPrefix(name, "-"), ".")
		if _, ok := fields[base]; !ok {
			return nil, refuse(ErrInvalid, "a %s has no field or figure %q%s", k.Name, base, near.Hint(base, fields.Names()))
		}
	}
	return columns, nil
}

// filter compiles what a record has to satisfy, and says which names it uses.
func (n *Node) filter(ctx context.Context, k *record.Kind, fields query.Fields, q ListQuery) (func(listed) (bool, error), []string, error) {
	keep := func(listed) (bool, error) { return true, nil }
	if q.Search != "" {
		ids, err := n.store.Search(ctx, q.Search, k.Number, maxFound)
		if err != nil {
			return nil, nil, err
		}
		groups, found := n.store.Groups(), map[entry.RecordID]bool{}
		for _, id := range ids {
			found[groups.Leader(id)] = true
		}
		keep = func(l listed) (bool, error) { return found[l.id], nil }
	}
	if strings.TrimSpace(q.Where) == "" {
		return keep, nil, nil
	}
	program, err := query.Compile(fields, q.Where)
	if err != nil {
		return nil, nil, refuse(ErrInvalid, "%v", err)
	}
	found := keep
	return func(l listed) (bool, error) {
		if ok, err := found(l); !ok || err != nil {
			return ok, err
		}
		ok, err := program.Match(l.vars)
		if errors.Is(err, query.ErrTooCostly) {
			err = refuse(ErrInvalid, "%v", err)
		}
		return ok, err
	}, program.Uses(), nil
}

// maxFound bounds how many records a search finds.
const maxFound = 10000

// load reads the records of a kind that are to be kept, by groups.
func (r *reader) load(k *record.Kind, retired bool, keep func(listed) (bool, error), standing []measure.What) ([]listed, error) {
	if k.Number == record.Prospect {
		return r.prospects(retired, keep, standing)
	}
	var rows []listed
	for stored, err := range r.n.store.Records(r.ctx, storage.Query{Kind: k.Number, Hidden: retired}) {
		if err != nil {
			return nil, err
		}
		if r.groups.Leader(stored.ID) != stored.ID && r.seen(r.groups.Leader(stored.ID)) {
			continue
		}
		l, ok := r.listed(stored.ID, retired)
		if !ok {
			continue
		}
		if ok, err := keep(l); err != nil {
			return nil, err
		} else if ok {
			rows = append(rows, l)
		}
	}
	return rows, r.err
}

// seen reports whether a leader is there to be listed itself.
func (r *reader) seen(leader entry.RecordID) bool {
	row, ok := r.row(leader)
	return ok && row.Info.Visibility != merge.Hidden
}

func (r *reader) listed(id entry.RecordID, retired bool) (listed, bool) {
	g, ok := r.group(id)
	if !ok || g.visibility() == merge.Hidden && !retired {
		return listed{}, false
	}
	l := listed{id: g.leader, title: r.title(g.leader), vars: map[string]any{}, texts: map[string]string{}, conflicts: len(g.union.Conflicts())}
	r.fields(g, l.vars)
	for _, reg := range g.union.Registers {
		known, ok := register(g.leader, reg.Register)
		if v, shown := reg.Shown(); ok && shown && v.Op == entry.OpValue {
			l.texts[known.Path()] = r.text(g.union, known, record.Value{Op: v.Op, Bytes: v.Data})
		}
	}
	l.vars["conflicts"] = int64(l.conflicts)
	if g.leader.Class() == entry.Owned {
		l.vars["by"] = r.personName(g.leader.Person())
	}
	return l, true
}

// prospects reads what is kept of each prospect, after making anew what is
// out of date. Standings are worked out among all of them, before any is left
// out.
func (r *reader) prospects(retired bool, keep func(listed) (bool, error), standing []measure.What) ([]listed, error) {
	if err := r.n.refresh(r); err != nil {
		return nil, err
	}
	var rows []listed
	for kept, err := range r.n.store.Summaries(r.ctx, record.Prospect) {
		if err != nil {
			return nil, err
		}
		s, err := decodeSummary(kept.Data)
		if err != nil {
			return nil, err
		}
		if !s.Hidden || retired {
			rows = append(rows, s.listed(kept.Record))
		}
	}
	standings(rows, standing)
	var failed error
	rows = slices.DeleteFunc(rows, func(l listed) bool {
		ok, err := keep(l)
		failed = cmp.Or(failed, err)
		return !ok
	})
	return rows, failed
}

func (s summary) listed(id entry.RecordID) listed {
	name, _ := s.Vars["name"].(string)
	conflicts, _ := s.Vars["conflicts"].(int64)
	return listed{id: id, title: cmp.Or(name, shortID(id)), vars: s.Vars, texts: s.Texts, conflicts: int(conflicts)}
}

// sortRows sorts by the names given, then by title and id: equal questions get
// equal answers on every laptop.
func sortRows(rows []listed, by []string, k *record.Kind) {
	if len(by) == 0 && k.Number == record.Prospect {
		by = []string{"name"}
	}
	slices.SortStableFunc(rows, func(a, b listed) int {
		for _, name := range by {
			key, down := strings.CutPrefix(name, "-")
			if c := compareValues(a.at(key), b.at(key), down); c != 0 {
				return c
			}
		}
		return cmp.Or(strings.Compare(a.title, b.title), cmp.Compare(a.id, b.id))
	})
}

// compareValues puts what is missing last, whichever way the rest is sorted.
func compareValues(a, b any, down bool) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	c := 0
	x, okX := number(a)
	y, okY := number(b)
	if okX && okY {
		c = cmp.Compare(x, y)
	} else {
		c = strings.Compare(strings.ToLower(fmt.Sprint(a)), strings.ToLower(fmt.Sprint(b)))
	}
	if down {
		return -c
	}
	return c
}

func number(v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

// at returns the value of a name, which may name a key of a map.
func (l listed) at(name string) any {
	base, key, keyed := strings.Cut(name, ".")
	v := l.vars[base]
	if !keyed {
		return v
	}
	if m, ok := v.(map[string]any); ok {
		return m[key]
	}
	return nil
}

func (l listed) show(columns []string) Row {
	row := Row{ID: l.id, Title: l.title, Conflicts: l.conflicts}
	for _, name := range columns {
		v := l.at(name)
		row.Cells = append(row.Cells, v)
		text, ok := l.texts[name]
		if !ok {
			text = plainText(v)
		}
		row.Texts = append(row.Texts, text)
	}
	return row
}

func plainText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', 2, 64)
	case []any:
		items := make([]string, len(v))
		for i, item := range v {
			items[i] = plainText(item)
		}
		return strings.Join(items, ", ")
	case map[string]any:
		var items []string
		for _, key := range slices.Sorted(maps.Keys(v)) {
			items = append(items, key+" "+plainText(v[key]))
		}
		return strings.Join(items, ", ")
	}
	return fmt.Sprint(v)
}

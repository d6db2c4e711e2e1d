package node

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
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
	record.Prospect:   {"name", "position", "school", "class_year", "height", "weight", "arm", "overall", "evaluations", "looks", "reps", "won_share"},
	record.Note:       {"prospect", "by", "date", "text"},
	record.Claim:      {"evaluation", "kind", "text", "tally"},
	record.Rep:        {"look", "number", "quarter", "clock", "down", "distance", "yard_line", "play", "pass_set", "assignment", "alignment", "move", "result", "outcome", "observations"},
	record.Evaluation: {"prospect", "by", "overall", "projected", "reach", "role", "grades", "filed"},
	record.Look:       {"prospect", "by", "game", "mode", "date", "opponent_level"},
}

// usualOrder is what a listing is sorted by that names nothing: reps as they were
// charted, and not as the words of their titles, where 10 comes before 2.
var usualOrder = map[entry.Kind][]string{
	record.Prospect: {"name"},
	record.Rep:      {"look", "number"},
}

// List returns the records of a kind that match, in an order that every laptop
// agrees on.
func (n *Node) List(ctx context.Context, q ListQuery) (Listing, error) {
	n.asking.Add(1)
	defer n.asking.Add(-1)
	k, err := record.Stored().KindByName(cmp.Or(q.Kind, "prospect"))
	if err != nil {
		return Listing{}, refuse(ErrInvalid, "%v", err)
	}
	if err := n.staffed(); err != nil {
		return Listing{}, err
	}
	fields := fieldsOf(k.Number)
	columns, err := columnsOf(k, fields, q)
	if err != nil {
		return Listing{}, err
	}
	found, err := n.found(ctx, k, q)
	if err != nil {
		return Listing{}, err
	}
	program, err := compile(fields, q)
	if err != nil {
		return Listing{}, err
	}
	keep, uses := filter(found, program)
	if len(q.Sort) == 0 {
		q.Sort = usualOrder[k.Number]
	}
	p := &pile{sort: q.Sort, columns: columns, limit: q.Limit}
	r := n.reader(ctx)
	if k.Number == record.Prospect {
		err = r.pileProspects(p, q.Hidden, keep, standingsIn(slices.Concat(columns, q.Sort, uses)))
	} else {
		err = r.pileRecords(p, k, q, program, keep, uses, found)
	}
	if err != nil {
		return Listing{}, err
	}
	return Listing{Columns: columns, Rows: p.rows(), Total: p.total}, r.err
}

func (r *reader) pileProspects(p *pile, retired bool, keep func(listed) (bool, error), standing []measure.What) error {
	rows, err := r.prospects(retired, keep, standing)
	if p.limit == 0 {
		p.gathered = make([]piled, 0, len(rows)) // growing bit by bit takes several times as much
	}
	for _, l := range rows {
		p.add(l, nil)
	}
	return err
}

// pileRecords lists the records of any other kind, by groups. There may be
// hundreds of thousands: what packs can tell of them is asked of these, and of
// the others only what is asked for is worked out, what the expression looks at
// first.
func (r *reader) pileRecords(p *pile, k *record.Kind, q ListQuery, program *query.Program, keep func(listed) (bool, error), uses []string, found map[entry.RecordID]bool) error {
	looks := names(uses, p.sort)
	if found != nil {
		return r.pileFound(p, q.Hidden, keep, looks, found)
	}
	if a, ok := r.ask(k, q, program); ok {
		return r.pilePacked(a, p, keep, looks)
	}
	return r.pileAll(p, k, q.Hidden, keep, looks)
}

// pileAll reads every record.
func (r *reader) pileAll(p *pile, k *record.Kind, retired bool, keep func(listed) (bool, error), looks map[string]bool) error {
	for stored, err := range r.n.store.Records(r.ctx, storage.Query{Kind: k.Number, Hidden: retired}) {
		if err != nil {
			return err
		}
		if err := r.pileOne(p, stored, retired, keep, looks); err != nil {
			return err
		}
	}
	return r.err
}

// pileFound lists records that a search has found, and those that are one with
// them.
func (r *reader) pileFound(p *pile, retired bool, keep func(listed) (bool, error), looks map[string]bool, found map[entry.RecordID]bool) error {
	for _, leader := range slices.Sorted(maps.Keys(found)) {
		for _, m := range r.groups.Members(leader) {
			row, ok := r.row(m)
			if !ok || !retired && !shown(row) {
				continue
			}
			if err := r.pileOne(p, row, retired, keep, looks); err != nil {
				return err
			}
		}
	}
	return r.err
}

// pileOne lists one record, unless another one of its group speaks for it.
func (r *reader) pileOne(p *pile, stored storage.Row, retired bool, keep func(listed) (bool, error), looks map[string]bool) error {
	leader := r.groups.Leader(stored.ID)
	if leader != stored.ID && r.seen(leader) {
		return nil
	}
	// Nothing else asks for it, and all of them don't fit into memory.
	defer func() {
		delete(r.rows, stored.ID)
		delete(r.titles, leader)
	}()
	r.rows[stored.ID] = stored
	g, ok := r.group(stored.ID)
	if !ok || !retired && g.visibility() == merge.Hidden {
		return nil
	}
	l := r.listed(g, looks)
	if ok, err := keep(l); err != nil || !ok {
		return err
	}
	l.title = r.title(l.id)
	shows := names(p.columns)
	p.add(l, func(l listed) listed { return r.completed(l, g, shows) })
	return nil
}

// names gathers the fields that columns and expressions speak of.
func names(lists ...[]string) map[string]bool {
	set := map[string]bool{}
	for _, name := range slices.Concat(lists...) {
		base, _, _ := strings.Cut(strings.TrimPrefix(name, "-"), ".")
		set[base] = true
	}
	return set
}

// seen reports whether a leader is there to be listed itself.
func (r *reader) seen(leader entry.RecordID) bool {
	row, ok := r.row(leader)
	return ok && shown(row)
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
			return nil, refuse(ErrInvalid, "%s has no field or figure %q%s", k.Name, base, near.Hint(base, fields.Names()))
		}
	}
	return columns, nil
}

// found returns the records that a search finds, by their leaders; nil when
// nothing is searched for.
func (n *Node) found(ctx context.Context, k *record.Kind, q ListQuery) (map[entry.RecordID]bool, error) {
	if q.Search == "" {
		return nil, nil
	}
	search := n.store.Search
	if q.Hidden {
		search = n.store.SearchAll
	}
	ids, err := search(ctx, q.Search, k.Number, 0)
	if err != nil {
		return nil, err
	}
	groups, found := n.store.Groups(), map[entry.RecordID]bool{}
	for _, id := range ids {
		found[groups.Leader(id)] = true
	}
	return found, nil
}

// compile reads the expression; nil when there is none.
func compile(fields query.Fields, q ListQuery) (*query.Program, error) {
	if strings.TrimSpace(q.Where) == "" {
		return nil, nil
	}
	program, err := query.Compile(fields, q.Where)
	if err != nil {
		return nil, refuse(ErrInvalid, "%v", err)
	}
	return program, nil
}

func match(program *query.Program, vars map[string]any) (bool, error) {
	ok, err := program.Match(vars)
	if errors.Is(err, query.ErrTooCostly) {
		err = refuse(ErrInvalid, "%v", err)
	}
	return ok, err
}

// filter says what a record has to satisfy, and which names that looks at. What it
// returns is for one caller at a time.
func filter(found map[entry.RecordID]bool, program *query.Program) (func(listed) (bool, error), []string) {
	var uses []string
	if program != nil {
		uses = program.Uses()
	}
	asked := map[string]any{}
	return func(l listed) (bool, error) {
		if found != nil && !found[l.id] || program == nil {
			return found == nil || found[l.id], nil
		}
		for _, name := range uses {
			asked[name] = l.at(name)
		}
		return match(program, asked)
	}, uses
}

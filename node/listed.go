package node

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strconv"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// listed is one record on its way into a listing. What it shows was worked out for
// it alone or, of a prospect, is kept; then nothing but what this question adds
// stands in vars.
type listed struct {
	id        entry.RecordID
	title     string
	vars      map[string]any
	texts     map[string]string
	kept      *kept
	conflicts int
	hidden    bool
}

// listed works out the named fields of a group, by which it is picked. What its
// title is comes later: that may take reading other records.
func (r *reader) listed(g group, only map[string]bool) listed {
	l := listed{id: g.leader, vars: map[string]any{}, conflicts: len(g.union.Conflicts())}
	l.vars["conflicts"] = int64(l.conflicts)
	r.look(g, l.vars, only)
	return l
}

// completed adds what is to be shown, in the words of the trade.
func (r *reader) completed(l listed, g group, only map[string]bool) listed {
	r.look(g, l.vars, only)
	l.texts = map[string]string{}
	for known, v := range g.shown(only) {
		if v.Op == entry.OpValue {
			l.texts[known.Path()] = r.text(g.union, known, v)
		}
	}
	return l
}

// look puts the named fields, and whose the record is, under their names.
func (r *reader) look(g group, vars map[string]any, only map[string]bool) {
	r.fields(g, vars, only)
	if only["by"] && g.leader.Class() == entry.Owned {
		vars["by"] = r.personName(g.leader.Person())
	}
}

// fields puts the shown value of each field under its name; only of those
// named, unless that is nil.
func (r *reader) fields(g group, vars map[string]any, only map[string]bool) {
	for known, v := range g.shown(only) {
		plain, ok := r.plain(known, v)
		if !ok {
			continue
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

// plain is a value as expressions see it; false for one that can't be read.
func (r *reader) plain(known record.Register, v record.Value) (any, bool) {
	plain, err := known.Native(v)
	if id := entry.RecordID(v.Bytes); err == nil && v.Op == entry.OpReference && id.Valid() {
		plain = r.title(id)
	}
	return plain, err == nil
}

// shown goes through the values to show of the fields that are named, or of all
// if only is nil. Of the others it reads nothing.
func (g group) shown(only map[string]bool) iter.Seq2[record.Register, record.Value] {
	return func(yield func(record.Register, record.Value) bool) {
		k, ok := record.Stored().KindOf(g.leader)
		if !ok {
			return
		}
		for _, reg := range g.union.Registers {
			f, ok := k.Field(reg.Field)
			if !ok || only != nil && !only[f.Name] {
				continue
			}
			known, ok := k.At(reg.Register)
			v, shown := reg.Shown()
			if ok && shown && !yield(known, record.Value{Op: v.Op, Bytes: v.Data}) {
				return
			}
		}
	}
}

// pile gathers the rows of a listing. With a limit it holds little more than
// that many.
type pile struct {
	sort, columns []string
	limit         int

	total    int
	gathered []piled
	// last is the row behind which nothing is listed any more, once there are
	// more than the limit.
	last *piled
}

// piled is a row with what it is sorted by.
type piled struct {
	keys []sortKey
	row  Row
}

// add takes a row. complete, unless nil, adds what is only shown.
func (p *pile) add(l listed, complete func(listed) listed) {
	p.total++
	one := piled{row: Row{ID: l.id, Title: l.title, Conflicts: l.conflicts}}
	for _, name := range p.sort {
		one.keys = append(one.keys, sortKeyOf(l.at(strings.TrimPrefix(name, "-"))))
	}
	if p.last != nil && p.compare(one, *p.last) > 0 {
		return
	}
	if complete != nil {
		l = complete(l)
	}
	one.row = l.show(p.columns)
	p.gathered = append(p.gathered, one)
	if p.limit > 0 && len(p.gathered) >= 2*p.limit {
		p.cut()
	}
}

// cut sorts, and drops what is beyond the limit.
func (p *pile) cut() {
	slices.SortFunc(p.gathered, p.compare)
	if p.limit > 0 && len(p.gathered) > p.limit {
		clear(p.gathered[p.limit:])
		p.gathered = p.gathered[:p.limit]
		last := p.gathered[p.limit-1]
		p.last = &last
	}
}

func (p *pile) rows() []Row {
	p.cut()
	rows := make([]Row, len(p.gathered))
	for i, one := range p.gathered {
		rows[i] = one.row
	}
	return rows
}

// compare sorts by the names given, then by title and id: equal questions get
// equal answers on every laptop.
func (p *pile) compare(a, b piled) int {
	return cmp.Or(compareKeys(p.sort, a.keys, b.keys), strings.Compare(a.row.Title, b.row.Title), cmp.Compare(a.row.ID, b.row.ID))
}

func compareKeys(sort []string, a, b []sortKey) int {
	for i, name := range sort {
		if c := a[i].compare(b[i], strings.HasPrefix(name, "-")); c != 0 {
			return c
		}
	}
	return 0
}

// sortKey is a value as it is compared: numbers as such, the rest as text without
// capitals. It is made once, since a value is compared a dozen times.
type sortKey struct {
	there  bool
	number float64
	text   string
}

func sortKeyOf(v any) sortKey {
	switch v := v.(type) {
	case nil:
		return sortKey{}
	case int64:
		return sortKey{there: true, number: float64(v)}
	case float64:
		return sortKey{there: true, number: v}
	case string:
		return sortKey{there: true, text: strings.ToLower(v)}
	}
	return sortKey{there: true, text: strings.ToLower(fmt.Sprint(v))}
}

// compare puts what is missing last, whichever way the rest is sorted.
func (a sortKey) compare(b sortKey, down bool) int {
	switch {
	case !a.there && !b.there:
		return 0
	case !a.there:
		return 1
	case !b.there:
		return -1
	}
	c := cmp.Or(cmp.Compare(a.number, b.number), strings.Compare(a.text, b.text))
	if down {
		return -c
	}
	return c
}

// at returns the value of a name, which may name a key of a map.
func (l listed) at(name string) any {
	base, key, keyed := strings.Cut(name, ".")
	v, ok := l.vars[base]
	if !ok {
		v = l.kept.value(base)
	}
	if small, ok := v.(few[any]); ok {
		if keyed {
			v, _ = small.at(key)
			return v
		}
		return maps.Collect(small.all())
	}
	return part(v, key, keyed)
}

// text is what people write for the value of a name; false where that is the
// value itself.
func (l listed) text(name string) (text string, ok bool) {
	if l.kept != nil {
		return l.kept.texts.at(name)
	}
	text, ok = l.texts[name]
	return text, ok
}

// part is a value, or what a map has under a key.
func part(v any, key string, keyed bool) any {
	if !keyed {
		return v
	}
	if m, ok := v.(map[string]any); ok {
		return m[key]
	}
	return nil
}

func (l listed) show(columns []string) Row {
	row := Row{ID: l.id, Title: l.title, Conflicts: l.conflicts, Cells: make([]any, len(columns)), Texts: make([]string, len(columns))}
	for i, name := range columns {
		v := l.at(name)
		text, ok := l.text(name)
		if !ok {
			text = plainText(v)
		}
		row.Cells[i], row.Texts[i] = v, text
	}
	return row
}

func plainText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
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

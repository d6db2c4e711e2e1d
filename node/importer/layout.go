package importer

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// part is a record that each row of a table holds or mentions, with the fields
// that have a column. No list means every field that a cell can hold.
type part struct {
	kind   entry.Kind
	fields []string
}

// layout is one kind of table.
type layout struct {
	// rows is what a row is about: no two rows are the same one.
	rows entry.Kind
	// parts are looked up in this order when a column is placed.
	parts []part
	// wide tables have a column for each measure; long ones a row.
	wide, long bool
	// needs lists the columns without which no row can be read.
	needs []string
	// apart lists the columns that tell one row from another: a whole table may be of
	// one school or one game, and not of one number.
	apart []string
	// owners are columns that name what a row belongs to, of which an export has none:
	// it calls that by its title.
	owners []string
	// saved tables are lists that were exported: their rows are named by their
	// records' ids alone, and change records that are there.
	saved bool
}

// savedLayout is that of a list which was exported as it stands. What it shows of
// other records names them for people, not for the program.
func savedLayout(kind entry.Kind) layout {
	return layout{rows: kind, parts: []part{{kind: kind}}, saved: true}
}

// lacks reports whether a table names nothing that its rows belong to.
func (l layout) lacks(o Options, t *table) bool {
	return len(l.owners) > 0 && !slices.ContainsFunc(t.header, func(header string) bool {
		c, ok := l.find(o.mapped(strings.TrimSpace(header)))
		return ok && c.kind != l.rows && slices.Contains(l.owners, c.name())
	})
}

// takesIDs reports whether rows may be named by their records' ids. A number is not: a
// row that names its prospect enters one.
func (l layout) takesIDs() bool { return l.saved || !l.long }

// isOwned reports whether rows are what a scout owns. One with an id is about that
// record alone, whatever else the table has to name those of other rows.
func (l layout) isOwned() bool { return l.rows == record.Rep || l.rows == record.Evaluation }

// shows reports whether a name is that of a field which refers to other records, or
// of one that has many values, of which an export has all in one column.
func (l layout) shows(name string) bool {
	k, ok := record.Stored().Kind(l.rows)
	if !ok || !l.saved && !l.isOwned() {
		return false
	}
	f, err := k.FieldByName(fold(name))
	return err == nil && (f.RefersTo != "" || f.IsMap())
}

// identity are the columns by which a table mentions a prospect.
var identity = part{record.Prospect, []string{"name", "school", "class_year", "list_id"}}

var layouts = map[entry.Kind]layout{
	record.Prospect: {
		rows:  record.Prospect,
		parts: []part{{kind: record.Prospect}},
		wide:  true,
		apart: []string{"name"},
	},
	record.Measurement: {
		rows:  record.Measurement,
		parts: []part{identity},
		long:  true,
		needs: []string{"what", "value"}, apart: []string{"value"}, owners: []string{"list_id", "school"},
	},
	record.Game: {
		rows:  record.Game,
		parts: []part{{kind: record.Game}},
		needs: []string{"date", "home", "away"},
	},
	record.Rep: {
		rows: record.Rep,
		parts: []part{
			{kind: record.Rep},
			{record.Game, []string{"date", "home", "away", "season", "week"}},
			identity,
			{record.Look, []string{"mode", "opponent_level", "date"}},
		},
		needs: []string{"number", "date", "home", "away"}, apart: []string{"number"}, owners: []string{"date", "home", "away"},
	},
	record.Evaluation: {
		rows:  record.Evaluation,
		parts: []part{{kind: record.Evaluation}, identity}, apart: []string{"name"}, owners: []string{"list_id", "school"},
	},
}

func layoutOf(kind entry.Kind) (layout, error) {
	l, ok := layouts[kind]
	if !ok {
		return l, fmt.Errorf("%w; there are tables of prospects, measurements, games, reps and evaluations", ErrKind)
	}
	return l, nil
}

// register finds a part's register for a column's name. References have none: rows
// name records by their natural keys.
func (p part) register(name string) (record.Register, bool) {
	k, ok := record.Stored().Kind(p.kind)
	if !ok {
		return record.Register{}, false
	}
	r, err := k.Register(name)
	return r, err == nil && p.has(r.Field)
}

func (p part) has(f *record.Field) bool {
	if f.RefersTo != "" {
		return false
	}
	if p.fields == nil {
		return true
	}
	for _, name := range p.fields {
		if name == f.Name {
			return true
		}
	}
	return false
}

// columns lists the part's fields; a map's stands for all its keys.
func (p part) columns() []*record.Field {
	var fields []*record.Field
	if k, ok := record.Stored().Kind(p.kind); ok {
		for _, f := range k.Fields() {
			if p.has(f) {
				fields = append(fields, f)
			}
		}
	}
	return fields
}

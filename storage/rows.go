package storage

import "strings"

// rowsAtOnce is how many rows one statement inserts. Most of what a small row
// costs is the call; beyond this many nothing more is gained (measured).
const rowsAtOnce = 32

// rows gathers rows for one table and inserts many at once.
type rows struct {
	c       *connection
	insert  string // the statement up to its values
	columns int
	values  []any
}

func (c *connection) rows(insert string, columns int) *rows {
	return &rows{c: c, insert: insert, columns: columns}
}

func (r *rows) add(values ...any) error {
	r.values = append(r.values, values...)
	if len(r.values) < r.columns*rowsAtOnce {
		return nil
	}
	return r.send(rowsAtOnce)
}

func (r *rows) send(n int) error {
	one := "(?" + strings.Repeat(", ?", r.columns-1) + ")"
	err := r.c.exec(r.insert+" VALUES "+one+strings.Repeat(", "+one, n-1), r.values[:n*r.columns]...)
	r.values = r.values[:copy(r.values, r.values[n*r.columns:])]
	return err
}

// flush inserts the rest. What follows may read the rows.
func (r *rows) flush() error {
	for len(r.values) > 0 {
		if err := r.send(1); err != nil {
			return err
		}
	}
	return nil
}

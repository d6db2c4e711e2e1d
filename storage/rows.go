package storage

import "strings"

// rowsAtOnce are how many rows one statement inserts, as long as there are so
// many. Most of what a small row costs is the call. What a call costs besides
// is a copy of each page that it finds and changes, which SQLite keeps to take
// back a statement that fails half-way; beyond this many rows nothing more is
// gained (measured).
var rowsAtOnce = []int{128, 16, 1}

// rows gathers rows for one table and inserts many at once.
type rows struct {
	c       *connection
	insert  string // the statement up to its rows
	row     string // "(?, ?)"; what is the same in all rows can stand there
	columns int    // that can differ: each costs by itself, however small it is
	values  []any
}

func (c *connection) rows(insert, row string) *rows {
	return &rows{c: c, insert: insert, row: row, columns: strings.Count(row, "?")}
}

func (r *rows) add(values ...any) error {
	r.values = append(r.values, values...)
	if len(r.values) < r.columns*rowsAtOnce[0] {
		return nil
	}
	return r.send(rowsAtOnce[0])
}

func (r *rows) send(n int) error {
	err := r.c.exec(r.insert+" VALUES "+r.row+strings.Repeat(", "+r.row, n-1), r.values[:n*r.columns]...)
	r.values = r.values[:copy(r.values, r.values[n*r.columns:])]
	return err
}

// flush inserts the rest. What follows may read the rows.
func (r *rows) flush() error {
	for _, n := range rowsAtOnce {
		for len(r.values) >= n*r.columns {
			if err := r.send(n); err != nil {
				return err
			}
		}
	}
	return nil
}

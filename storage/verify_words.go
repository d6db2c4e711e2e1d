package storage

import (
	"context"
	"errors"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// indexCheck holds the search index against the texts of the records. The index
// keeps no text, so SQLite can't do it there: its pages are copied beside the
// texts into a database of the check's own, where SQLite can. It lies in the
// system's folder for passing files, without a name, since it may be large.
type indexCheck struct{ c *connection }

// The index of the check: of the same words, cut in the same way.
const (
	checkedTexts = "CREATE TABLE text (n INTEGER PRIMARY KEY, text TEXT NOT NULL)"
	checkedIndex = "CREATE VIRTUAL TABLE again USING fts5 (text, content = 'text', content_rowid = 'n', prefix = '2 3', tokenize = 'unicode61 remove_diacritics 2')"
)

func newIndexCheck(ctx context.Context) (*indexCheck, error) {
	c, err := openNamed(ctx, "file:?_pragma=cache_size(-8192)&_pragma=synchronous(OFF)&_pragma=journal_mode(OFF)")
	if err != nil {
		return nil, roomless(err)
	}
	i := &indexCheck{c}
	fresh, err := freshSchema(ctx) // what the file says of itself may be damaged
	for d := range fresh {
		if d.name == "words" && err == nil {
			err = i.each(checkedTexts, d.text, checkedIndex, "BEGIN")
		}
	}
	if err != nil {
		return nil, errors.Join(err, c.close())
	}
	return i, nil
}

func (i *indexCheck) each(statements ...string) error {
	for _, s := range statements {
		if err := roomless(i.c.plain(s)); err != nil {
			return err
		}
	}
	return nil
}

func (i *indexCheck) exec(text string, args ...any) error { return roomless(i.c.exec(text, args...)) }

// add notes the text of a record that is in the index.
func (i *indexCheck) add(n recordKey, text string) error {
	return i.exec("INSERT INTO text (n, text) VALUES (?, ?)", n, text)
}

// holds reports whether the index is what all texts give, once those of records
// are taken out whose words have changed since.
func (i *indexCheck) holds(q querier) (bool, error) {
	err := i.compare(q)
	var driver *sqlite.Error
	if errors.As(err, &driver) {
		switch driver.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_CONSTRAINT: // also rows that can't stand beside each other
			return false, nil
		}
	}
	return err == nil, err
}

func (i *indexCheck) compare(q querier) error {
	if err := errors.Join(i.copy(q), i.each("COMMIT", "BEGIN")); err != nil {
		return err
	}
	var changed []recordKey
	err := q(func(scan func(...any) error) error {
		var n recordKey
		err := scan(&n)
		changed = append(changed, n)
		return err
	}, "SELECT record FROM reword WHERE record IN (SELECT id FROM words_docsize)")
	for _, n := range changed {
		if err == nil {
			err = i.exec("DELETE FROM words WHERE rowid = ?", n)
		}
	}
	if err != nil {
		return err
	}
	return i.each("COMMIT", "BEGIN",
		"DELETE FROM again_data", "INSERT INTO again_data SELECT * FROM words_data",
		"DELETE FROM again_idx", "INSERT INTO again_idx SELECT * FROM words_idx",
		"DELETE FROM again_docsize", "INSERT INTO again_docsize SELECT id, sz FROM words_docsize", "COMMIT",
		"INSERT INTO again (again, rank) VALUES ('integrity-check', 1)")
}

// copy copies the tables that the index is kept in, see
// https://www.sqlite.org/fts5.html#fts5_data_structures.
func (i *indexCheck) copy(q querier) error {
	var first, last int64
	var data []byte
	for _, t := range []struct {
		name, values string
		columns      int
	}{{"words_data", "(?, coalesce(?, x''))", 2}, {"words_idx", "(?, coalesce(?, x''), ?)", 3}, {"words_docsize", "(?, coalesce(?, x''), ?)", 3}} {
		if err := i.each("DELETE FROM " + t.name); err != nil {
			return err
		}
		err := q(func(scan func(...any) error) error {
			if err := scan([]any{&first, &data, &last}[:t.columns]...); err != nil {
				return err
			}
			return i.exec("INSERT INTO "+t.name+" VALUES "+t.values, []any{first, data, last}[:t.columns]...)
		}, "SELECT * FROM "+t.name)
		if err != nil {
			return err
		}
	}
	return nil
}

func (i *indexCheck) close() error { return i.c.close() }

package storage

import (
	"context"
	"errors"
)

// described is how SQLite describes a table or an index: what its rows are read by.
type described struct{ kind, name, table, text string }

// schema compares the descriptions with those of a new database: SQLite checks
// pages by them, whatever they say.
func (v *verifier) schema() error {
	fresh, err := freshSchema(v.ctx)
	if err != nil {
		return err
	}
	is, err := schemaOf(v.q)
	if err != nil {
		return err
	}
	for d := range is {
		if !fresh[d] {
			v.report.fault("file: %s %q is described in another way than this program does", d.kind, d.name)
		}
	}
	for d := range fresh {
		if !is[d] {
			v.report.fault("file: the description of %s %s is missing", d.kind, d.name)
		}
	}
	return nil
}

func freshSchema(ctx context.Context) (all map[described]bool, err error) {
	c, err := openNamed(ctx, ":memory:")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	if err := c.migrate(); err != nil {
		return nil, err
	}
	return schemaOf(c.query)
}

func schemaOf(q querier) (map[described]bool, error) {
	all := map[described]bool{}
	err := q(func(scan func(...any) error) error {
		var d described
		err := scan(&d.kind, &d.name, &d.table, &d.text)
		all[d] = true
		return err
	}, "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_schema")
	return all, err
}

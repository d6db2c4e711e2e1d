package storage

import (
	"context"
	"errors"
)

// querier runs a query on some connection: the writer's, inside its
// transaction, a reader's, or a reader's within one snapshot. It hands each row
// to the function, which must not query, and may end the rows with errEnough.
type querier func(row func(scan func(...any) error) error, text string, args ...any) error

// errEnough ends the rows of a query early, without a failure.
var errEnough = errors.New("enough rows")

// one reads the first row of a query; false when there is none.
func (q querier) one(text string, args []any, into ...any) (bool, error) {
	found := false
	err := q(func(scan func(...any) error) error {
		found = true
		if err := scan(into...); err != nil {
			return err
		}
		return errEnough
	}, text, args...)
	return found, err
}

// background is passed to the statements of a transaction: the driver starts
// a goroutine for each statement whose context can end. A transaction looks at
// its caller's context between statements instead.
var background = context.Background()

package storage

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"reflect"
)

// plainValue turns an argument into one of the few types that the driver takes.
// What is given as an int64 costs no more; where many rows are stored, it is.
func plainValue(a any) (driver.Value, error) {
	switch a := a.(type) {
	case nil, int64, []byte, string:
		return a, nil
	case int:
		return int64(a), nil
	case uint64:
		return whole(a)
	case entryKey:
		return int64(a), nil
	case recordKey:
		return int64(a), nil
	}
	switch v := reflect.ValueOf(a); {
	case v.CanInt():
		return v.Int(), nil
	case v.CanUint():
		return whole(v.Uint())
	}
	return nil, fmt.Errorf("a %T can't be stored", a)
}

// whole refuses what SQLite has no room for.
func whole(n uint64) (driver.Value, error) {
	if n > 1<<63-1 {
		return nil, fmt.Errorf("%d is too large to be stored", n)
	}
	return int64(n), nil
}

// scanned is a row that was read. Its bytes are its own: the driver copies them
// out of SQLite's memory for each row.
type scanned []driver.Value

// errScan is returned for a column of another type than what is read of it: the
// file is damaged.
var errScan = errors.New("what stands there is of another type")

// scan puts the columns where the pointers say. NULL leaves bytes nil, and is
// refused for the rest.
func (row scanned) scan(into ...any) error {
	if len(into) != len(row) {
		return fmt.Errorf("%d columns are read into %d values", len(row), len(into))
	}
	for i, v := range row {
		if err := put(into[i], v); err != nil {
			return fmt.Errorf("column %d: %w", i+1, err)
		}
	}
	return nil
}

func put(into any, v driver.Value) error {
	switch v := v.(type) {
	case int64:
		return putWhole(into, v)
	case []byte:
		if into, ok := into.(*[]byte); ok {
			*into = v
			return nil
		}
	case string:
		if into, ok := into.(*string); ok {
			*into = v
			return nil
		}
	case nil:
		if into, ok := into.(*[]byte); ok {
			*into = nil
			return nil
		}
	}
	return errScan
}

func putWhole(into any, v int64) error {
	switch into := into.(type) {
	case *int64:
		*into = v
		return nil
	case *int:
		*into = int(v)
		return nil
	case *entryKey:
		*into = entryKey(v)
		return nil
	case *recordKey:
		*into = recordKey(v)
		return nil
	case *[]byte:
		*into = []byte{} // there, and no bytes: see sole
		return nil
	}
	e := reflect.ValueOf(into).Elem()
	switch {
	case e.CanInt() && !e.OverflowInt(v):
		e.SetInt(v)
	case e.CanUint() && v >= 0 && !e.OverflowUint(uint64(v)):
		e.SetUint(uint64(v))
	default:
		return errScan
	}
	return nil
}

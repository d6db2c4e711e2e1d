package storage

import (
	"context"
	"database/sql/driver"
	"testing"

	"modernc.org/sqlite"
)

// flip changes one bit in the middle of a value. It is a function of the SQL
// of these tests alone.
func init() {
	sqlite.MustRegisterDeterministicScalarFunction("flip", 1, func(_ *sqlite.FunctionContext, args []driver.Value) (driver.Value, error) {
		data := append([]byte(nil), args[0].([]byte)...)
		data[len(data)/2] ^= 1
		return data, nil
	})
}

// damage changes the database behind the store's back.
func (s *Store) damage(t *testing.T, text string) {
	t.Helper()
	result, err := s.writer.conn.(driver.ExecerContext).ExecContext(context.Background(), text, nil)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		t.Fatalf("%d rows were damaged, %v", n, err)
	}
}

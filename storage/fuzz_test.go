package storage

import (
	"bytes"
	"testing"
)

// FuzzFold reads what the database says its derived tables come to.
func FuzzFold(f *testing.F) {
	f.Add(fold{mark: 7}.encode())
	f.Add([]byte{1, 2, 3})
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := decodeFold(data)
		if err != nil {
			return
		}
		if again, err := decodeFold(got.encode()); err != nil || again != got || !bytes.Equal(again.encode(), got.encode()) {
			t.Errorf("%+v, written and read again %+v, %v", got, again, err)
		}
	})
}

package merge_test

import (
	"bytes"
	"testing"

	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// FuzzDecode reads a record's state, which comes from the database. What can be
// read is written as one that reads the same.
func FuzzDecode(f *testing.F) {
	id := mergetest.Prospect(1)
	w := mergetest.NewWorld(3)
	l := w.Scout(w.Root, 1)
	l.Write(id, mergetest.Value(1, "elm"))
	l.Write(id, mergetest.Value(1, "oak"), mergetest.Refer(2, mergetest.Prospect(2)))
	f.Add(w.Read(w.Facts...).Record(id).Encode())
	f.Add([]byte{0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := merge.Decode(id, data)
		if err != nil {
			return
		}
		written := r.Encode()
		again, err := merge.Decode(id, written)
		if err != nil || !bytes.Equal(again.Encode(), written) {
			t.Errorf("written and read again: %v", err)
		}
		r.Conflicts()
		r.References()
	})
}

package merge_test

import (
	"encoding/binary"
	"fmt"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// referring is a record that refers to n others, to each twice.
func referring(n int) *merge.Record {
	var changes []entry.Change
	for i := range 2 * n {
		var unique [16]byte
		binary.BigEndian.PutUint64(unique[:], uint64(i%n))
		to := entry.NewRecordID(entry.Shared, 1, entry.PersonID{}, unique)
		changes = append(changes, entry.Change{Register: entry.Register{Field: uint32(i)}, Op: entry.OpReference, Value: []byte(to)})
	}
	r := &merge.Record{ID: shared(1)}
	r.Apply(merge.Write{Body: entry.Body{Kind: entry.KindChanges, Changes: changes}})
	return r
}

// Each is named once, in the order of the registers, whether there are few or many.
func TestEachReferenceIsNamedOnce(t *testing.T) {
	for _, n := range []int{0, 1, 2, 12, 13, 1000} {
		refs := referring(n).References()
		if len(refs) != n {
			t.Errorf("%d references, want %d", len(refs), n)
		}
		for i, id := range refs {
			if at := binary.BigEndian.Uint64([]byte(id[3:])); at != uint64(i) {
				t.Errorf("of %d references number %d leads to %d", n, i, at)
			}
		}
	}
}

// What a save on a record costs that refers to so many: each tenfold should take about
// ten times as long, since a peer can write such a record.
func BenchmarkReferences(b *testing.B) {
	for _, n := range []int{1000, 10_000} {
		r := referring(n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				r.References()
			}
		})
	}
}

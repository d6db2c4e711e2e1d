package storage

import "testing"

// What tells new records from held ones takes a fixed memory, and none once so many
// are held that it would send most of them to the file anyway. Keys are invented.
func TestWhatIsKnownOfKeysIsBounded(t *testing.T) {
	key := func(i int) int64 { return int64(uint64(i) * 0x9e3779b97f4a7c15) } // spread as a hash is
	k := &known{words: make([]uint64, knownWords)}
	for i := range knownAtMost {
		k.add(key(i))
	}
	mistaken := 0
	for i := range 10_000 {
		if !k.may(key(i)) {
			t.Fatalf("key %d was added", i)
		}
		if k.may(key(knownAtMost + 1 + i)) {
			mistaken++
		}
	}
	if mistaken > 1000 {
		t.Errorf("%d of 10000 keys that no record has would be looked up", mistaken)
	}
	k.add(key(knownAtMost))
	if k.words != nil {
		t.Error("it is kept though it tells little")
	}
	k.add(key(knownAtMost + 1))
	if !k.may(key(0)) || !k.may(key(-1)) {
		t.Error("a record may have any key once nothing is known")
	}
}

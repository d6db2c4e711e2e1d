package storage

// known tells of most keys that no record has them, without a look at the file:
// nearly all records that an empty laptop meets are new. It is a Bloom filter of
// three bits a key, all in one word. It belongs to whoever writes; keys of a
// transaction that failed do no harm in it.
type known struct {
	words []uint64
	keys  int
}

const (
	knownWords = 1 << 19 // four mebibytes
	// knownAtMost is for how many keys it serves: then one in fifty that no
	// record has is looked up.
	knownAtMost = 6 * knownWords
)

func place(key int64) (word int, bits uint64) {
	k := uint64(key)
	return int(k >> 45), 1<<(k&63) | 1<<(k>>6&63) | 1<<(k>>12&63)
}

func (k *known) add(key int64) {
	if k == nil || k.words == nil {
		return
	}
	if k.keys++; k.keys > knownAtMost {
		k.words = nil
		return
	}
	word, bits := place(key)
	k.words[word] |= bits
}

// may reports whether a record may have a key.
func (k *known) may(key int64) bool {
	if k == nil || k.words == nil {
		return true
	}
	word, bits := place(key)
	return k.words[word]&bits == bits
}

// learnKeys reads all keys, where there are fewer than the transaction has entries.
func (d *draft) learnKeys() error {
	entries, held := 0, 0
	for _, g := range d.growths {
		entries += len(g.entries)
	}
	for kind, next := range d.before.next {
		held += int(next - firstOf(kind))
	}
	if d.known != nil || entries < keysAtOnce || held > entries {
		return nil
	}
	d.known = &known{words: make([]uint64, knownWords)}
	for _, k := range d.unkeyed.all() {
		d.known.add(k.key)
	}
	return d.read()(func(scan func(...any) error) error {
		var key int64
		err := scan(&key)
		d.known.add(key)
		return err
	}, "SELECT key FROM record_key")
}

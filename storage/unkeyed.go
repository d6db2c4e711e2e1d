package storage

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"plumbline/sync/entry"
)

// The keys by which records are found lie anywhere in their table: a large
// transaction would change nearly as many of its pages as it has new records.
// So those of large transactions wait in memory, and go into the table many at
// once, in order, so that each page is written once for all of them.
const (
	// keysAtOnce is from how many new records on their keys wait.
	keysAtOnce = 1024
	// unkeyedAtMost is how many keys wait: they take two mebibytes, and are read
	// again when a database is opened that wasn't closed.
	unkeyedAtMost = 1 << 17
)

// newKey is a row of record_key.
type newKey struct {
	key int64
	n   recordKey
}

func compareKeys(a, b newKey) int { return cmp.Compare(a.key, b.key) }

// unkeyed is what record_key lacks. What it holds is never changed, since
// readers share it: adding makes another one.
type unkeyed struct {
	runs [][]newKey // each in the order of keys, the largest first
	size int
	from map[entry.Kind]recordKey // the rows of the table unkeyed
}

// find returns the numbers of the records that have a key, as arguments.
func (u *unkeyed) find(key int64) (numbers []any) {
	for _, run := range u.runs {
		i, _ := slices.BinarySearchFunc(run, newKey{key: key}, compareKeys)
		for ; i < len(run) && run[i].key == key; i++ {
			numbers = append(numbers, int64(run[i].n))
		}
	}
	return numbers
}

// with adds keys, which are in order. Runs are merged when they aren't much
// longer than what comes after them, so that there are few.
func (u unkeyed) with(keys []newKey) unkeyed {
	u.size += len(keys)
	u.from = maps.Clone(u.from)
	if u.from == nil {
		u.from = map[entry.Kind]recordKey{}
	}
	for _, k := range keys {
		if first, ok := u.from[k.n.kind()]; !ok || k.n < first {
			u.from[k.n.kind()] = k.n
		}
	}
	runs := u.runs
	for len(runs) > 0 && len(runs[len(runs)-1]) < 2*len(keys) {
		keys = merged(runs[len(runs)-1], keys)
		runs = runs[:len(runs)-1]
	}
	u.runs = append(slices.Clip(runs), keys)
	return u
}

// all returns every key, in order.
func (u *unkeyed) all() (keys []newKey) {
	for _, run := range slices.Backward(u.runs) {
		keys = merged(run, keys)
	}
	return keys
}

// merged returns both lists as one, in order.
func merged(a, b []newKey) []newKey {
	out := make([]newKey, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if a[0].key <= b[0].key {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

// storeKeys stores how the new records are found, or lets it wait.
func (d *draft) storeKeys() error {
	if len(d.newKeys) == 0 {
		return nil
	}
	slices.SortFunc(d.newKeys, compareKeys)
	keys := d.newKeys
	d.newKeys = nil
	for _, k := range keys {
		d.known.add(k.key)
	}
	if d.unkeyed.size == 0 && len(keys) < keysAtOnce {
		return d.w.insertKeys(keys)
	}
	before := d.unkeyed
	d.unkeyed = d.unkeyed.with(keys)
	for kind, n := range d.unkeyed.from {
		if _, ok := before.from[kind]; ok {
			continue
		}
		if err := d.w.exec("INSERT INTO unkeyed (kind, n) VALUES (?, ?)", kind, n); err != nil {
			return err
		}
	}
	if d.unkeyed.size < unkeyedAtMost {
		return nil
	}
	return d.memory.keyAll(d.w)
}

func (w *connection) insertKeys(keys []newKey) error {
	rows := w.rows("INSERT OR FAIL INTO record_key (key, n)", "(?, ?)")
	for _, k := range keys {
		if err := rows.add(k.key, int64(k.n)); err != nil {
			return err
		}
	}
	return rows.flush()
}

// keyAll puts what waits into the table.
func (m *memory) keyAll(w *connection) error {
	keys := m.unkeyed.all()
	if err := w.insertKeys(keys); err != nil {
		return err
	}
	m.unkeyed = unkeyed{}
	return w.exec("DELETE FROM unkeyed")
}

// IndexRecords lets all records be found by the table instead of by what is kept
// in memory, and gives that up.
func (s *Store) IndexRecords(ctx context.Context) error {
	s.writing.Lock()
	defer s.writing.Unlock()
	if err := ctx.Err(); err != nil {
		return failure("index records", err)
	}
	return failure("index records", s.indexRecords())
}

func (s *Store) indexRecords() error {
	held := s.held.Load()
	if held == nil || s.readOnly || held.unkeyed.size == 0 && held.known == nil {
		return nil
	}
	m := *held
	if m.unkeyed.size > 0 {
		if err := s.writer.transact(func() error { return m.keyAll(s.writer) }); err != nil {
			return err
		}
	}
	m.known = nil
	s.held.Store(&m)
	return nil
}

// loadUnkeyed reads which keys wait.
func (m *memory) loadUnkeyed(q querier) error {
	var from []recordKey
	err := q(func(scan func(...any) error) error {
		var kind entry.Kind
		var n recordKey
		err := scan(&kind, &n)
		from = append(from, n)
		return err
	}, "SELECT kind, n FROM unkeyed")
	if err != nil {
		return err
	}
	for _, first := range from {
		var keys []newKey
		err := q(func(scan func(...any) error) error {
			var n recordKey
			var id []byte
			err := scan(&n, &id)
			keys = append(keys, newKey{idKey(entry.RecordID(id)), n})
			return err
		}, "SELECT n, id FROM record WHERE n BETWEEN ? AND ?", first, firstOf(first.kind())+below)
		if err != nil {
			return err
		}
		slices.SortFunc(keys, compareKeys)
		m.unkeyed = m.unkeyed.with(keys)
	}
	return nil
}

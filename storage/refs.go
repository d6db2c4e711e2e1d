package storage

import (
	"cmp"
	"slices"
)

// newRef is a reference that is to be stored: by a live value of the record
// source to the record target.
type newRef struct{ target, source recordKey }

func (a newRef) compare(b newRef) int {
	return cmp.Or(cmp.Compare(a.target, b.target), cmp.Compare(a.source, b.source))
}

// insertRefs stores references as runs: ref has a row for each stretch of
// records numbered one after the other that refer to the same one.
func (d *draft) insertRefs() error {
	slices.SortFunc(d.newRefs, newRef.compare)
	rows := d.w.rows("INSERT INTO ref (target, source, count)", "(?, ?, ?)")
	for i := 0; i < len(d.newRefs); {
		first, count := d.newRefs[i], 1
		for i++; i < len(d.newRefs) && d.newRefs[i] == (newRef{first.target, first.source + recordKey(count)}); i++ {
			count++
		}
		if err := rows.add(int64(first.target), int64(first.source), int64(count)); err != nil {
			return err
		}
	}
	d.newRefs = d.newRefs[:0]
	return rows.flush()
}

// deleteRef takes a reference out of its run.
func (d *draft) deleteRef(gone newRef) error {
	if err := d.insertRefs(); err != nil {
		return err
	}
	var first recordKey
	var count int
	_, err := d.read().one("SELECT source, count FROM ref WHERE target = ? AND source <= ? ORDER BY source DESC LIMIT 1",
		[]any{gone.target, gone.source}, &first, &count)
	end := first + recordKey(count)
	if err != nil || gone.source >= end {
		return err
	}
	if err := d.w.exec("DELETE FROM ref WHERE target = ? AND source = ?", gone.target, first); err != nil {
		return err
	}
	for _, rest := range []struct{ first, end recordKey }{{first, gone.source}, {gone.source + 1, end}} {
		for n := rest.first; n < rest.end; n++ {
			d.newRefs = append(d.newRefs, newRef{gone.target, n})
		}
	}
	return d.insertRefs()
}

// stretches are numbers of records, each without the one at its end.
type stretches []struct{ first, end recordKey }

// disjoint returns the same numbers, each once, in order.
func (s stretches) disjoint() stretches {
	slices.SortFunc(s, func(a, b struct{ first, end recordKey }) int { return cmp.Compare(a.first, b.first) })
	var out stretches
	for _, one := range s {
		if last := len(out) - 1; last >= 0 && one.first <= out[last].end {
			out[last].end = max(out[last].end, one.end)
		} else {
			out = append(out, one)
		}
	}
	return out
}

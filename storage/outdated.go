package storage

// outdated is what must be made anew of one table: the rows that say so on the
// disk, and the last transaction that bears on each. A transaction that only
// moves this moment on needs to write nothing: after a restart nobody has read
// anything before it, and that there is a row says enough. It belongs to whoever
// writes, and changes with a commit.
type outdated map[recordKey]Mark

// outdatedAtMost bounds what is remembered. Other rows are written each time.
const outdatedAtMost = 1 << 14

// after reports whether a row became outdated after a moment, as far as known.
// What isn't known stands in the row.
func (o outdated) after(mark Mark, n recordKey) bool { return o[n] > mark }

// made forgets rows that aren't outdated any more.
func (o outdated) made(rows []recordKey) {
	for _, n := range rows {
		delete(o, n)
	}
}

// outdating is what a transaction adds to it.
type outdating struct {
	insert string // number and mark
	known  outdated
	rows   map[recordKey]bool
}

func (o *outdating) add(n recordKey) { o.rows[n] = true }

// store writes the rows that aren't on the disk.
func (o *outdating) store(d *draft) error {
	for n := range o.rows {
		if _, known := o.known[n]; known {
			continue
		}
		if err := d.w.exec(o.insert, n, d.fold.mark); err != nil {
			return err
		}
	}
	return nil
}

// emptied says that the table has no rows any more.
func (o *outdating) emptied() { o.known = outdated{} }

// committed returns what is outdated once the transaction is on the disk.
func (o *outdating) committed(at Mark) outdated {
	for n := range o.rows {
		if _, known := o.known[n]; known || len(o.known) < outdatedAtMost {
			o.known[n] = at
		}
	}
	return o.known
}

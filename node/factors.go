package node

import (
	"slices"

	"plumbline/node/near"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// factor refuses to grade what the staff's factors don't name, once there are
// any: a slip of the pen would be a factor of its own, and its grade in no
// mean. A staff without factors grades what it likes. What came over from others, or
// was graded before, stays readable, and may be cleared.
func (w *writer) factor(reg record.Register, op entry.Op) error {
	if reg.Field != gradesField || reg.Key == "" || op == entry.OpClear {
		return nil
	}
	known, err := w.factors()
	if err != nil || len(known) == 0 || slices.Contains(known, reg.Key) {
		return err
	}
	return refuse(ErrInvalid, "the staff has no factor %q%s; plumbline list factors shows them, and a director adds one with plumbline add factor name=%s", reg.Key, near.Hint(reg.Key, known), reg.Key)
}

// factors are the names of those that the staff has. They are read once: a table has
// a grade in every cell.
func (w *writer) factors() ([]string, error) {
	if w.factorNames != nil {
		return w.factorNames, nil
	}
	known := []string{}
	for row, err := range w.n.store.Records(w.ctx, storage.Query{Kind: record.Factor}) {
		if err != nil {
			return nil, err
		}
		if name := w.shownText(row.ID, "name"); name != "" {
			known = append(known, name)
		}
	}
	w.factorNames = known
	return known, nil
}

var gradesField = record.Must(record.Evaluation, "grades.any").Field

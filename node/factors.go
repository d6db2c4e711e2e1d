package node

import (
	"fmt"
	"slices"

	"plumbline/node/near"
	"plumbline/node/record"
	"plumbline/storage"
)

// factor refuses to grade what the staff's factors don't name, once there are
// any: a slip of the pen would be a factor of its own, and its grade in no
// mean. A staff without factors grades what it likes.
func (w *writer) factor(reg record.Register) error {
	if reg.Field != gradesField || reg.Key == "" {
		return nil
	}
	var known []string
	for row, err := range w.n.store.Records(w.ctx, storage.Query{Kind: record.Factor}) {
		if err != nil {
			return err
		}
		if name, ok := native(row.Record, "name"); ok {
			known = append(known, fmt.Sprint(name))
		}
	}
	if len(known) == 0 || slices.Contains(known, reg.Key) {
		return nil
	}
	return refuse(ErrInvalid, "the staff has no factor %q%s; plumbline list factors shows them, and a director adds one with plumbline add factor name=%s", reg.Key, near.Hint(reg.Key, known), reg.Key)
}

var gradesField = record.Must(record.Evaluation, "grades.any").Field

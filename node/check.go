package node

import (
	"context"
	"errors"
	"slices"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Check reads a write as [Node.Write] would and stores nothing. What is wrong
// with single fields is in the answer; an error means that none of it may be
// written, whatever the fields hold.
func (n *Node) Check(ctx context.Context, write Write) ([]Checked, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return nil, err
	}
	k, id, err := w.target(write)
	if err != nil {
		return nil, err
	}
	sets := measured(k, write.Sets)
	checked := make([]Checked, 0, len(sets))
	for _, set := range sets {
		checked = append(checked, w.checked(k, id, set, sets))
	}
	for _, name := range required[k.Number] {
		given := slices.ContainsFunc(sets, func(s Set) bool {
			f, err := k.FieldByName(s.Field)
			return err == nil && f.Name == name && !s.Clear
		})
		if write.Record == "" && !given {
			checked = append(checked, Checked{Field: name, Wrong: "a new " + k.Name + " needs it"})
		}
	}
	return checked, w.err
}

// target finds what a write is about, and whether its writer has the right to it.
func (w *writer) target(write Write) (*record.Kind, entry.RecordID, error) {
	if write.Record == "" {
		k, err := record.Stored().KindByName(write.Kind)
		if err != nil {
			return nil, "", invalid(err)
		}
		id, err := w.newID(k, write.NewID)
		if err == nil && !merge.MayWrite(w.cert, id) {
			err = w.noRight(id)
		}
		return k, id, err
	}
	g, err := w.find(kindNumber(write.Kind), write.Record)
	if err != nil {
		return nil, "", err
	}
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return nil, "", refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to change it")
	}
	return k, g.leader, w.mayWrite(g)
}

// checked reads one field.
func (w *writer) checked(k *record.Kind, id entry.RecordID, set Set, all []Set) Checked {
	out := Checked{Field: set.Field}
	reg, v, err := w.read(k, set)
	if err == nil {
		err = errors.Join(w.once(id, reg), w.factor(reg, v.Op))
	}
	if err != nil {
		out.Wrong = wrong(err)
		return out
	}
	if v.Op == entry.OpClear {
		return out
	}
	if v.Op == entry.OpReference {
		out.Refers = entry.RecordID(v.Bytes)
		out.Text = w.title(out.Refers)
		return out
	}
	out.Text, err = w.checkedText(reg, v, all)
	if err != nil {
		out.Wrong = wrong(err)
	}
	return out
}

// checkedText writes a value as the trade does: a measurement's number by what
// was measured, which another field says.
func (w *writer) checkedText(reg record.Register, v record.Value, all []Set) (string, error) {
	if reg.Kind.Number != record.Measurement || reg.Field.Name != "reading" {
		return reg.Text(v)
	}
	for _, set := range all {
		if set.Field != "what" {
			continue
		}
		if _, what, err := w.read(reg.Kind, set); err == nil {
			return record.MeasuredText(what, v)
		}
	}
	return reg.Text(v)
}

// wrong is what is wrong, where the field is known already.
func wrong(err error) string {
	var broken *record.Invalid
	if errors.As(err, &broken) {
		return broken.Reason
	}
	return err.Error()
}

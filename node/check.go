package node

import (
	"cmp"
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
	k, id, of, err := w.target(write)
	if err != nil {
		return nil, err
	}
	sets := measured(k, write.Sets, of)
	checked := make([]Checked, 0, len(sets))
	for _, set := range sets {
		checked = append(checked, w.checked(k, id, set, sets, of))
	}
	checked = withWrong(checked, w.misread(k, sets, of), "reading", "what")
	checked = withWrong(checked, w.unfiled(k, sets, of), "filed")
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

// withWrong tells what is wrong with fields together at the first of them that is
// written.
func withWrong(checked []Checked, err error, fields ...string) []Checked {
	if err == nil {
		return checked
	}
	for _, field := range fields {
		if at := slices.IndexFunc(checked, func(c Checked) bool { return c.Field == field }); at >= 0 {
			checked[at].Wrong, checked[at].Text = cmp.Or(checked[at].Wrong, wrong(err)), ""
			break
		}
	}
	return checked
}

// target finds what a write is about, with what stands there, and whether its writer
// has the right to it.
func (w *writer) target(write Write) (*record.Kind, entry.RecordID, *merge.Record, error) {
	if write.Record == "" {
		k, err := record.Stored().KindByName(write.Kind)
		if err != nil {
			return nil, "", nil, invalid(err)
		}
		id, err := w.newID(k, write.NewID)
		if err == nil && !merge.MayWrite(w.cert, id) {
			err = w.noRight(id)
		}
		return k, id, nil, err
	}
	g, err := w.find(kindNumber(write.Kind), write.Record)
	if err != nil {
		return nil, "", nil, err
	}
	k, ok := record.Stored().KindOf(g.leader)
	if !ok {
		return nil, "", nil, refuse(ErrNewer, "this record is of a kind that only a newer plumbline knows: update this one to change it")
	}
	return k, g.leader, g.union, w.mayWrite(g)
}

// checked reads one field.
func (w *writer) checked(k *record.Kind, id entry.RecordID, set Set, all []Set, of *merge.Record) Checked {
	out := Checked{Field: set.Field}
	reg, v, err := w.read(k, set)
	if err == nil {
		err = errors.Join(w.once(id, reg), w.allowed(reg, v))
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
	out.Text, err = w.checkedText(reg, v, all, of)
	if err != nil {
		out.Wrong = wrong(err)
	}
	return out
}

// checkedText writes a value as the trade does: a measurement's number by what
// was measured, which another field says.
func (w *writer) checkedText(reg record.Register, v record.Value, all []Set, of *merge.Record) (string, error) {
	if reg.Kind.Number == record.Measurement && reg.Field.Name == "reading" {
		if what, ok := w.willStand(reg.Kind, all, of, "what"); ok {
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

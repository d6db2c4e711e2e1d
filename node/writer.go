package node

import (
	"context"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// begin prepares a write by this laptop's person.
func (n *Node) begin(ctx context.Context) (*writer, error) {
	_, cert, err := n.standing()
	if err != nil {
		return nil, err
	}
	return &writer{reader: n.reader(ctx), cert: cert, written: map[entry.RecordID]map[entry.Register]bool{}}, nil
}

// done saves, and shows the record as it is then.
func (w *writer) done(id entry.RecordID) (Record, error) {
	if err := w.save(); err != nil {
		return Record{}, err
	}
	r := w.n.reader(w.ctx)
	g, ok := r.group(id)
	if !ok {
		return Record{ID: id, Kind: kindName(id)}, r.err
	}
	return r.view(g), r.err
}

// writer turns what people ask for into drafts.
type writer struct {
	*reader
	cert   entry.Certificate
	drafts []Draft
	// written are the fields of this transaction: what it writes twice would
	// dispute itself.
	written map[entry.RecordID]map[entry.Register]bool
	// factorNames are the staff's factors, once they were read.
	factorNames []string
	// check, if set, is asked once nothing can come in any more before it is saved.
	check func() error
}

// once refuses to write a field twice in one transaction.
func (w *writer) once(id entry.RecordID, reg record.Register) error {
	if w.written[id][reg.Address()] {
		return refuse(ErrInvalid, "%s is given twice: leave one out", reg.Path())
	}
	if w.written[id] == nil {
		w.written[id] = map[entry.Register]bool{}
	}
	w.written[id][reg.Address()] = true
	return nil
}

func (w *writer) save() error {
	if w.err != nil || len(w.drafts) == 0 {
		return w.err
	}
	return failure(w.n.step(Save{Drafts: w.drafts, Check: w.check}).Err)
}

// draft files a change under its record: an entry is about one record.
func (w *writer) draft(id entry.RecordID, source string, changes ...entry.Change) error {
	if !merge.MayWrite(w.cert, id) {
		return w.noRight(id)
	}
	if w.n.store.Verdict().Erasures.Record(id) {
		return refuse(ErrInvalid, "this %s was erased by a director, and what is written to it counts nowhere: add it anew, under an id of its own", kindName(id))
	}
	w.drafts = append(w.drafts, Draft{Record: id, Body: entry.Body{Kind: entry.KindChanges, Source: source, Changes: changes}})
	return nil
}

// mayWrite refuses what this laptop's person has no right to write, before anything
// else is asked about it.
func (w *writer) mayWrite(g group) error {
	for _, m := range g.members {
		if !merge.MayWrite(w.cert, m.ID) {
			return w.noRight(m.ID)
		}
	}
	return nil
}

func (w *writer) noRight(id entry.RecordID) error {
	switch {
	case id.Class() != entry.Owned:
		return refuse(ErrRights, "only a director may write %s: ask one; the roster shows who they are", aKind(id))
	case id.Kind() == record.Person || id.Kind() == record.Device:
		return refuse(ErrRights, "this %s is %s's: only they can change it", kindName(id), w.personName(id.Person()))
	}
	return refuse(ErrRights, "this %s is %s's: only they can change it. Write one of your own", kindName(id), w.personName(id.Person()))
}

package node

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Write adds and changes records, all of it in one transaction. It returns
// their ids in the order of the writes, once everything is durable.
func (n *Node) Write(ctx context.Context, writes []Write) ([]entry.RecordID, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return nil, err
	}
	ids := make([]entry.RecordID, len(writes))
	for i, write := range writes {
		if ids[i], err = w.add(write); err != nil {
			return nil, err
		}
	}
	return ids, w.save()
}

func (w *writer) add(write Write) (entry.RecordID, error) {
	if write.Record != "" {
		g, err := w.find(kindNumber(write.Kind), write.Record)
		if err != nil {
			return "", err
		}
		return g.leader, w.change(g, write.Sets)
	}
	k, err := record.Stored().KindByName(write.Kind)
	if err != nil {
		return "", refuse(ErrInvalid, "%v", err)
	}
	id, err := w.newID(k, write.NewID)
	if err != nil {
		return "", err
	}
	if write.NewID != "" { // one that was drawn just now is held nowhere
		if g, ok := w.group(id); ok {
			return id, w.retried(id, g, k, write.Sets)
		}
	}
	if !merge.MayWrite(w.cert, id) {
		return "", w.noRight(id)
	}
	changes, err := w.first(id, k, write.Sets)
	if err != nil {
		return "", err
	}
	return id, w.draft(id, "", changes...)
}

// retried answers a write of a new record that is there already. What its
// writer wrote at the first attempt isn't written again, whatever became of it.
func (w *writer) retried(id entry.RecordID, g group, k *record.Kind, sets []Set) error {
	history, err := w.n.store.History(w.ctx, id)
	if err != nil {
		return err
	}
	var others []Set
	for _, set := range measured(k, sets, g.union) {
		reg, v, err := w.read(k, set)
		if err != nil {
			return err
		}
		wrote := slices.ContainsFunc(history, func(e storage.HistoryEntry) bool {
			return e.Status == merge.Applied && w.own(e) && slices.ContainsFunc(e.Body.Changes, func(c entry.Change) bool {
				return c.Register == reg.Address() && c.Op == v.Op && bytes.Equal(c.Value, v.Bytes)
			})
		})
		if !wrote {
			others = append(others, set)
		}
	}
	return w.change(g, others)
}

// own reports whether this laptop's person wrote an entry.
func (w *writer) own(e storage.HistoryEntry) bool {
	standing, _, held := w.n.store.Author(e.ID.Log)
	return held && standing.Certificate.Person == w.cert.Person
}

func kindNumber(name string) entry.Kind {
	if k, err := record.Stored().KindByName(name); err == nil {
		return k.Number
	}
	return 0
}

// read finds the register and reads the value.
func (w *writer) read(k *record.Kind, set Set) (record.Register, record.Value, error) {
	reg, err := k.Register(set.Field)
	if err != nil {
		return reg, record.Value{}, invalid(err)
	}
	if set.Clear {
		return reg, record.Value{Op: entry.OpClear}, nil
	}
	var v record.Value
	switch {
	case set.JSON != nil:
		var raw []byte
		if raw, err = json.Marshal(set.JSON); err == nil {
			v, err = reg.FromJSON(raw)
		}
	case reg.Field.RefersTo != "":
		var ids string
		if ids, err = w.references(reg.Field, set.Text); err != nil {
			return reg, v, err
		}
		v, err = reg.Parse(ids)
	default:
		v, err = reg.Parse(set.Text)
	}
	if err != nil {
		return reg, v, invalid(err)
	}
	return reg, v, nil
}

// references turns names into ids, several of them where the field is a list.
func (w *writer) references(f *record.Field, typed string) (string, error) {
	names := []string{typed}
	if f.IsList() {
		names = strings.Split(typed, ",")
	}
	for i, name := range names {
		id, err := w.resolve(kindNumber(f.RefersTo), name)
		if err != nil {
			return "", fmt.Errorf("%s: %w", f.Name, err)
		}
		names[i] = id.String()
	}
	return strings.Join(names, ", "), nil
}

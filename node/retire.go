package node

import (
	"context"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Retire hides a record, as its caller has read it: asOf is that of the answer
// that was shown. What came in since isn't covered. It keeps the record in sight,
// as a dispute, and is told.
func (n *Node) Retire(ctx context.Context, ref, asOf string) (Retired, error) {
	w, g, err := n.marking(ctx, ref)
	if err != nil {
		return Retired{}, err
	}
	read, err := w.reading(g, asOf)
	if err != nil {
		return Retired{}, err
	}
	for _, m := range g.members {
		if !w.shownBy(read, m.ID) {
			continue // it was joined to the others since: nobody has read it
		}
		draft, err := read.Retirement(ctx, n.store, m.ID)
		if err != nil {
			return Retired{}, err
		}
		w.drafts = append(w.drafts, draft)
	}
	done, err := w.done(g.leader)
	if err != nil {
		return Retired{}, err
	}
	r := n.reader(ctx)
	against := slices.DeleteFunc(r.unread(g, read), func(e storage.HistoryEntry) bool { return e.Body.Kind == entry.KindRetirement })
	return Retired{Record: done, Unread: r.shownUnread(against)}, r.err
}

// Keep answers the retirements of a record that its caller has read of: it
// stays. If it was retired once more since, nothing is written: a keep would beat
// that one too.
func (n *Node) Keep(ctx context.Context, ref, asOf string) (Record, error) {
	w, g, err := n.marking(ctx, ref)
	if err != nil {
		return Record{}, err
	}
	if g.visibility() == merge.Visible {
		return w.done(g.leader)
	}
	read, err := w.reading(g, asOf)
	if err != nil {
		return Record{}, err
	}
	for _, m := range g.members {
		draft, err := read.Keep(ctx, n.store, m.ID)
		if err != nil {
			return Record{}, err
		}
		w.drafts = append(w.drafts, draft)
	}
	w.check = func() error { return w.retiredSince(g, read) }
	return w.done(g.leader)
}

// marking prepares an entry that is no write to a register.
func (n *Node) marking(ctx context.Context, ref string) (*writer, group, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return nil, group{}, err
	}
	g, err := w.find(0, ref)
	if err != nil {
		return nil, group{}, err
	}
	if g.leader.Kind() == record.SameAs {
		return nil, group{}, refuse(ErrInvalid, "a statement that two records are one can't be retired: say that they are apart, with plumbline same --apart")
	}
	return w, g, w.mayWrite(g)
}

// reading reads up to where the caller has read a group.
func (w *writer) reading(g group, asOf string) (Reading, error) {
	if asOf == "" {
		return Reading{}, refuse(ErrUnseen, "this doesn't say up to where %s was read, and covers nothing else: pass as_of, which Get answers with what it shows", w.title(g.leader))
	}
	read, err := ParseReading(asOf)
	if err != nil {
		return Reading{}, err
	}
	if err := read.holds(w.ctx, w.n.store); err != nil {
		return Reading{}, err
	}
	if !slices.ContainsFunc(g.members, func(m row) bool { return w.shownBy(read, m.ID) }) {
		return Reading{}, refuse(ErrInvalid, "as_of was answered for another record than %s: read this one, and pass the as_of of that answer", w.title(g.leader))
	}
	return read, nil
}

// shownBy reports whether the answer that a reading comes from showed a record: as
// one of its own, or among what referred to them then, in one step or several.
func (r *reader) shownBy(read Reading, id entry.RecordID) bool {
	return r.leadsTo(read, id, map[entry.RecordID]bool{})
}

func (r *reader) leadsTo(read Reading, id entry.RecordID, met map[entry.RecordID]bool) bool {
	if slices.Contains(read.Records, id) {
		return true
	}
	row, ok := r.row(id)
	if !ok || met[id] {
		return false
	}
	met[id] = true
	for _, reg := range row.Registers {
		for _, v := range reg.Live {
			if to := entry.RecordID(v.Data); v.Op == entry.OpReference && to.Valid() && r.had(read, v.ID) && r.leadsTo(read, to, met) {
				return true
			}
		}
	}
	return false
}

func (r *reader) had(read Reading, id entry.ID) bool {
	had, err := r.n.store.HadRead(r.ctx, read.Read, id)
	if err != nil {
		r.fail(err)
	}
	return had
}

// retiredSince refuses to answer retirements that weren't read.
func (w *writer) retiredSince(g group, read Reading) error {
	var by []string
	for _, m := range g.members {
		retired, err := w.readOf(m.ID, read).RetiredSince(w.ctx, w.n.store, m.ID)
		if err != nil {
			return err
		}
		for _, e := range retired {
			by = append(by, w.signed(e))
		}
	}
	if len(by) == 0 {
		return w.err
	}
	return refuse(ErrUnseen, "%s was retired once more since it was read, by %s: read it again, and pass the as_of of that answer if it is to stay", w.title(g.leader), strings.Join(by, ", "))
}

// readOf is how far a member of a group was read. Of one that was joined to the
// others since, nothing was.
func (r *reader) readOf(id entry.RecordID, read Reading) Reading {
	if r.shownBy(read, id) {
		return read
	}
	return Reading{}
}

// unread reads what counts on a group and wasn't read.
func (r *reader) unread(g group, read Reading) []storage.HistoryEntry {
	var entries []storage.HistoryEntry
	for _, m := range g.members {
		more, err := r.n.store.Unread(r.ctx, r.readOf(m.ID, read).Read, m.ID)
		if err != nil {
			r.fail(err)
		}
		for _, e := range more {
			if !slices.ContainsFunc(entries, func(have storage.HistoryEntry) bool { return have.ID == e.ID }) {
				entries = append(entries, e)
			}
		}
	}
	return entries
}

// maxUnread is how much of what wasn't read is shown.
const maxUnread = 50

// since shows what has come in on a group since an earlier answer.
func (r *reader) since(g group, asOf string) (Unread, error) {
	if asOf == "" {
		return Unread{}, nil
	}
	read, err := ParseReading(asOf)
	if err != nil {
		return Unread{}, err
	}
	if err := read.holds(r.ctx, r.n.store); err != nil {
		return Unread{}, err
	}
	return r.shownUnread(r.unread(g, read)), nil
}

func (r *reader) shownUnread(entries []storage.HistoryEntry) Unread {
	u := Unread{Total: len(entries)}
	for _, e := range entries[:min(len(entries), maxUnread)] {
		rev := r.revision(e)
		rev.Title, rev.DeviceName = r.title(rev.Record), r.deviceName(rev.Author.Person, rev.Author.Device)
		u.Revisions = append(u.Revisions, rev)
	}
	return u
}

// disputing shows what keeps a retired group in sight.
func (r *reader) disputing(g group) Unread {
	var entries []storage.HistoryEntry
	for _, m := range g.members {
		more, err := r.n.store.Disputing(r.ctx, m.ID)
		if err != nil {
			r.fail(err)
		}
		entries = append(entries, more...)
	}
	return r.shownUnread(entries)
}

// asOf is the reading of a group as it is now. It is taken before the group is
// read: what comes in between is shown and not covered, never the other way.
func (r *reader) asOf(g group) string {
	ids := make([]entry.RecordID, len(g.members))
	for i, m := range g.members {
		ids[i] = m.ID
	}
	read, err := ReadNow(r.ctx, r.n.store, ids...)
	if err != nil {
		r.fail(err)
	}
	return read.String()
}

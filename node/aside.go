package node

import (
	"context"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// SetAside returns entries that are kept but don't count, each with why, and how
// many there are in all.
func (n *Node) SetAside(ctx context.Context, limit int) (Aside, error) {
	counts, err := n.store.Counts(ctx)
	if err != nil {
		return Aside{}, err
	}
	entries, err := n.store.SetAside(ctx, limit)
	if err != nil {
		return Aside{}, err
	}
	r := n.reader(ctx)
	all := make([]Revision, len(entries))
	for i, e := range entries {
		all[i] = r.revision(e)
		if e.Header.Record.Valid() { // what stands in a control log is about no record
			all[i].Title = r.title(e.Header.Record)
		}
		all[i].DeviceName = r.deviceName(all[i].Author.Person, all[i].Author.Device)
		all[i].Reason = r.reason(e, all[i].Author.Device)
	}
	nameUncounted(all, entries)
	return Aside{Revisions: all, Total: counts.Unapplied, AsOf: ReadListed(entries).String()}, r.err
}

// nameUncounted calls records of which nothing counts, and which therefore have
// no name, by the names that these entries gave them: ids would tell nobody whom
// they are about. The entries are those of the revisions: what stands in a text is
// never taken for an id, whatever it looks like.
func nameUncounted(all []Revision, entries []storage.HistoryEntry) {
	names := map[entry.RecordID]string{}
	for i, rev := range all {
		for _, f := range rev.Fields {
			if f.Name == "name" && f.Text != "" {
				names[entries[i].Header.Record] = f.Text
			}
		}
	}
	named := func(title *string, id entry.RecordID) {
		if name := names[id]; name != "" && *title == shortID(id) {
			*title = name
		}
	}
	for i, e := range entries {
		named(&all[i].Title, e.Header.Record)
		for j, c := range e.Body.Changes {
			if c.Op == entry.OpReference {
				named(&all[i].Fields[j].Text, entry.RecordID(c.Value))
			}
		}
	}
}

// reason says why an entry doesn't count.
func (r *reader) reason(e storage.HistoryEntry, device entry.DeviceID) string {
	id := e.Header.Record
	switch {
	case e.Status == merge.SetAside:
		return r.cutReason(device)
	case e.Status == merge.NoRight && id.Class() == entry.Owned:
		return "this " + kindName(id) + " is " + r.personName(id.Person()) + "'s: only they can change it"
	case e.Status == merge.NoRight:
		return "only a director may write " + aKind(id)
	case e.Status == merge.Erased:
		return "a director erased it"
	}
	return "it is newer than this program, which can't read it: update this one"
}

// cutReason names those who ended a laptop's standing.
func (r *reader) cutReason(device entry.DeviceID) string {
	var by []string
	for _, cut := range r.n.store.Verdict().Cuts {
		if cut.Body.Device == device {
			by = append(by, r.author(cut.ID.Log).Name)
		}
	}
	if len(by) == 0 {
		return "no grant that counts admits its laptop"
	}
	return "it hadn't come in when " + strings.Join(by, " and ") + " ended the laptop's standing"
}

package node

import (
	"context"
	"slices"

	"plumbline/node/record"
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
	r.uncounted = namesIn(entries)
	all := make([]Revision, len(entries))
	for i, e := range entries {
		all[i] = r.revision(e)
		if e.Header.Record.Valid() {
			all[i].Title = r.title(e.Header.Record)
		} else {
			standing, _, _ := n.store.Author(e.ID.Log)
			all[i].Says, all[i].Control = r.deed(e), standing.Control
		}
		all[i].DeviceName = r.deviceName(all[i].Author.Person, all[i].Author.Device)
		all[i].Reason = r.reason(e, all[i].Author.Device)
	}
	nameUncounted(all, entries, r.uncounted)
	return Aside{Revisions: all, Total: counts.Unapplied, AsOf: ReadListed(entries).String()}, r.err
}

// namesIn are the names that entries give to records, whether they count or not.
func namesIn(entries []storage.HistoryEntry) map[entry.RecordID]string {
	names := map[entry.RecordID]string{}
	for _, e := range entries {
		for _, c := range e.Body.Changes {
			if pathOf(e.Header.Record, c.Register) != "name" || c.Op == entry.OpClear {
				continue
			}
			if known, ok := register(e.Header.Record, c.Register); ok {
				if name, _ := known.Text(record.Value{Op: c.Op, Bytes: c.Value}); name != "" {
					names[e.Header.Record] = name
				}
			}
		}
	}
	return names
}

// nameUncounted calls records of which nothing counts, and which therefore have
// no name, by the names that these entries gave them: ids would tell nobody whom
// they are about. The entries are those of the revisions: what stands in a text is
// never taken for an id, whatever it looks like.
func nameUncounted(all []Revision, entries []storage.HistoryEntry, names map[entry.RecordID]string) {
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
	case e.Status == merge.NoRight && !id.Valid():
		return "only a director's laptop decides who may what"
	case e.Status == merge.NoRight:
		return "only a director may write " + aKind(id)
	case e.Status == merge.Erased:
		return "a director erased it"
	}
	return "it is newer than this program, which can't read it: update this one"
}

// cutReason names those who ended a laptop's standing, and their laptops where one
// person did so on several.
func (r *reader) cutReason(device entry.DeviceID) string {
	var by []Author
	laptops := map[string]int{}
	for _, cut := range r.n.store.Verdict().Cuts {
		author := r.author(cut.ID.Log)
		if cut.Body.Device == device && !slices.Contains(by, author) {
			by = append(by, author)
			laptops[author.Name]++
		}
	}
	if len(by) == 0 {
		return "no grant that counts admits its laptop"
	}
	names := make([]string, len(by))
	for i, author := range by {
		names[i] = author.Name
		if laptops[author.Name] > 1 {
			names[i] = LaptopOf(author.Name, r.deviceName(author.Person, author.Device))
		}
	}
	slices.Sort(names)
	return "it hadn't come in when " + joined(names) + " ended the laptop's standing"
}

package node

import (
	"context"
	"maps"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// rightsWith says what comes into force besides work where cuts are raised: by what
// the control entries held would come to, so that what follows from what follows is
// told too. Nothing else tells who may what.
func (n *Node) rightsWith(ctx context.Context, by entry.Rank, raised []Draft, listed map[entry.DeviceID][]entry.ID) ([]string, error) {
	supposed := make([]merge.Supposed, len(raised))
	var devices []entry.DeviceID
	for i, d := range raised {
		supposed[i] = merge.Supposed{By: by, Body: *d.Body.Cut}
		devices = append(devices, d.Body.Cut.Device)
	}
	after, err := n.store.Suppose(ctx, supposed...)
	if err != nil {
		return nil, failure(err)
	}
	held, err := n.store.SetAside(ctx, 0)
	if err != nil {
		return nil, err
	}
	r := n.reader(ctx)
	r.uncounted = namesIn(held)
	rights := r.effects(n.store.Verdict(), after)
	if len(rights) == 0 {
		rights = r.deedsOf(held, devices, listed)
	}
	return rights, r.err
}

// effects says what differs between two verdicts.
func (r *reader) effects(before, after *merge.Verdict) []string {
	told, changed := r.standings(before, after)
	for _, cut := range after.Cuts {
		isNew := cut.ID.Log != (entry.LogID{}) && !slices.ContainsFunc(before.Cuts, func(c merge.Cut) bool { return c.ID == cut.ID })
		switch {
		case !isNew || changed[cut.Body.Device]:
		case len(cut.Body.Replaces) > 0:
			told = append(told, "more counts of what "+r.laptopNamed(cut.Body.Device)+" wrote after its standing ended")
		default:
			told = append(told, "of what "+r.laptopNamed(cut.Body.Device)+" wrote after its standing ended less may count")
		}
	}
	told = append(told, r.erasing(before.Erasures, after.Erasures)...)
	if slices.ContainsFunc(after.LinkKeys, func(k merge.LinkKey) bool {
		return !slices.ContainsFunc(before.LinkKeys, func(old merge.LinkKey) bool { return old.ID == k.ID })
	}) {
		told = append(told, "the key that links are opened with changes")
	}
	if len(after.Newer) > len(before.Newer) {
		told = append(told, "something comes to count that this program is too old to read, and it shows nothing more until it is updated")
	}
	return told
}

// standings says whose laptops come by which rights or lose them, and of which
// devices that is.
func (r *reader) standings(before, after *merge.Verdict) (told []string, changed map[entry.DeviceID]bool) {
	keys, changed := map[entry.DeviceID][]byte{}, map[entry.DeviceID]bool{}
	for _, grants := range []map[entry.CertificateID]entry.Certificate{before.Grants, after.Grants} {
		for _, c := range grants {
			keys[entry.DeviceOf(c.Device)] = c.Device
		}
	}
	for device, key := range keys {
		was, is := laptopIn(before, device, key), laptopIn(after, device, key)
		if was.Revoked == is.Revoked && was.Role == is.Role && was.Author == is.Author {
			continue
		}
		name := r.laptopOf(is.Author.Person, device)
		if is.Author.Person == (entry.PersonID{}) { // no grant of it is left
			name = r.laptopOf(was.Author.Person, device)
		}
		changed[device] = true
		switch {
		case is.Revoked && was.Revoked: // only what it had, or would have had
			changed[device] = false
		case is.Revoked:
			told = append(told, "the standing of "+name+" ends")
		case was.Revoked:
			told = append(told, name+" is let in, with "+rightsOf(is.Role))
		case is.Role == entry.RoleDirector:
			told = append(told, name+" gets a director's rights")
		default:
			told = append(told, name+" keeps a scout's rights only")
		}
	}
	slices.Sort(told)
	return told, changed
}

// laptopIn is what a verdict leaves of a laptop, which may have no grant in it.
func laptopIn(v *merge.Verdict, device entry.DeviceID, key []byte) Member {
	certs := certificatesOf(v, key)
	if len(certs) == 0 {
		return Member{Device: device, Role: entry.RoleScout, Revoked: true}
	}
	return memberOf(v, device, certs)
}

// erasing says what is erased that wasn't, and the other way.
func (r *reader) erasing(before, after merge.Erasures) (told []string) {
	if before.Equal(after) {
		return nil
	}
	was, is := before.Touched(), after.Touched()
	without := func(of, those map[entry.RecordID]bool) []entry.RecordID {
		return slices.DeleteFunc(slices.Collect(maps.Keys(of)), func(id entry.RecordID) bool { return those[id] })
	}
	gone, back := without(is, was), without(was, is)
	if len(gone) > 0 {
		told = append(told, "what was written to "+r.someTitles(gone)+" is erased, in part or all of it")
	}
	if len(back) > 0 {
		told = append(told, "what was erased of "+r.someTitles(back)+" counts again")
	}
	if len(told) == 0 {
		told = append(told, "of "+r.someTitles(slices.Collect(maps.Keys(is)))+" something else is erased than now")
	}
	return told
}

// deedsOf says what the control entries do that come to count with what was listed,
// where nobody's standing shows it.
func (r *reader) deedsOf(held []storage.HistoryEntry, devices []entry.DeviceID, listed map[entry.DeviceID][]entry.ID) (told []string) {
	for _, e := range held {
		standing, _, _ := r.n.store.Author(e.ID.Log)
		author := r.author(e.ID.Log)
		upTo := slices.ContainsFunc(listed[author.Device], func(id entry.ID) bool { return id.Log == e.ID.Log && e.ID.Seq <= id.Seq })
		if upTo && standing.Control && slices.Contains(devices, author.Device) {
			told = append(told, author.Name+" "+r.deed(e))
		}
	}
	return told
}

package node

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// deed says what an entry does that stands on no record, for a sentence that begins
// with its author.
func (r *reader) deed(e storage.HistoryEntry) string {
	const newer = "wrote something that this program is too old to read"
	if e.Unreadable != nil {
		return newer
	}
	switch b := e.Body; b.Kind {
	case entry.KindGenesis:
		return "began a log"
	case entry.KindGrant:
		return r.grantDeed(*b.Grant)
	case entry.KindCut:
		return r.cutDeed(*b.Cut)
	case entry.KindErasure:
		return r.erasureDeed(*b.Erasure)
	case entry.KindLinkKey:
		return "changed the key that links are opened with"
	}
	return newer
}

func (r *reader) grantDeed(g entry.Grant) string {
	c, err := entry.DecodeCertificate(g.Certificate)
	if err != nil {
		return "let in a laptop by what this program can't read"
	}
	name := r.laptopOf(c.Person, entry.DeviceOf(c.Device))
	if _, _, admission := Best(r.n.store.Verdict(), c.Device); admission == merge.Admitted {
		return "gave " + name + " " + rightsOf(c.Role)
	}
	if len(g.Readmits) > 0 {
		return "let in " + name + " again, with " + rightsOf(c.Role)
	}
	return "let in " + name + ", with " + rightsOf(c.Role)
}

func (r *reader) cutDeed(c entry.Cut) string {
	name := r.laptopNamed(c.Device)
	switch {
	case len(c.Replaces) > 0:
		return "let more count of what " + name + " wrote after its standing ended"
	case c.Beyond == entry.BeyondNothing:
		return "ended the standing of " + name
	}
	return "left " + name + " a scout's rights only"
}

func (r *reader) erasureDeed(e entry.Erasure) string {
	var parts []string
	if n := len(e.Entries); n > 0 {
		records := make([]entry.RecordID, n)
		for i, x := range e.Entries {
			records[i] = x.Record
		}
		parts = append(parts, fmt.Sprintf("%d of what was written to %s", n, r.someTitles(records)))
	}
	if len(e.Records) > 0 {
		parts = append(parts, "all of "+r.someTitles(e.Records)+", later changes included")
	}
	return "erased " + strings.Join(parts, ", and ")
}

// someTitles names a few records, and counts the rest.
func (r *reader) someTitles(ids []entry.RecordID) string {
	const few = 3
	ids = slices.DeleteFunc(slices.Compact(slices.Sorted(slices.Values(ids))), func(id entry.RecordID) bool { return !id.Valid() })
	var titles []string
	for _, id := range ids[:min(few, len(ids))] {
		titles = append(titles, r.title(id))
	}
	if more := len(ids) - few; more > 0 {
		titles = append(titles, fmt.Sprintf("%d more", more))
	}
	return joined(titles)
}

// joined puts names in a row.
func joined(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " and " + names[last]
}

func rightsOf(role entry.Role) string {
	if role == entry.RoleDirector {
		return "a director's rights"
	}
	return "a scout's rights"
}

// laptopOf names a person's laptop in a sentence. Whom nothing that counts names is
// called as the entries say that admit them, and as somebody new, who may have been
// given anybody's name.
func (r *reader) laptopOf(person entry.PersonID, device entry.DeviceID) string {
	name := LaptopOf(r.personName(person), r.deviceName(person, device))
	if called := r.uncounted[personRecord(person)]; called != "" && r.shownText(personRecord(person), "name") == "" {
		return name + " (somebody new, called " + called + " there)"
	}
	return name
}

// laptopNamed is laptopOf for a device of which nothing else is known.
func (r *reader) laptopNamed(device entry.DeviceID) string {
	v := r.n.store.Verdict()
	if key := deviceKey(v, device); key != nil {
		return r.laptopOf(certificatesOf(v, key)[0].Person, device)
	}
	return "laptop " + device.String()[:8]
}

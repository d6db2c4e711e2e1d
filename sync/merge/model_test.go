package merge_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// The model is the rules read out loud: sets of facts, followed by their links
// and looked at again for every question. It shares no code with the package
// under test beyond names of outcomes, has no branches, no order of judging
// and no state, and is slow.
type model struct {
	staff entry.StaffID
	held  map[entry.ID]*fact
	// These only keep the recursion from taking forever.
	memo     map[*fact]bool
	statuses map[*fact]merge.Status
}

func newModel(w *world, facts []*fact) *model {
	m := &model{staff: w.staff, held: map[entry.ID]*fact{}, memo: map[*fact]bool{}, statuses: map[*fact]merge.Status{}}
	for _, f := range facts {
		m.held[f.id] = f
	}
	return m
}

// upTo reports whether f is the entry that the head names, or lies before it.
// A head that isn't held proves nothing (ledger rule 23).
func (m *model) upTo(f *fact, head entry.ID) bool {
	for at := m.held[head]; at != nil; at = at.prev {
		if at == f {
			return true
		}
	}
	return false
}

func (m *model) upToAny(f *fact, heads []entry.ID) bool {
	return slices.ContainsFunc(heads, func(h entry.ID) bool { return m.upTo(f, h) })
}

// who reads whose log it is: its certificate, or the root's own.
func (m *model) who(f *fact) (cert entry.Certificate, root, ok bool) {
	g := f.first.body.Genesis
	if g.Control && len(g.Certificate) == 0 && entry.StaffOf(g.Device) == m.staff {
		return cert, true, true
	}
	cert, err := entry.DecodeCertificate(g.Certificate)
	return cert, false, err == nil && bytes.Equal(cert.Device, g.Device)
}

// above reports whether the author of f ranks above the certificate.
func (m *model) above(f *fact, cert entry.Certificate) bool {
	author, root, ok := m.who(f)
	return ok && (root || author.Generation > cert.Generation ||
		author.Generation == cert.Generation && len(author.Path) < len(cert.Path))
}

// notBelow reports whether the author of f ranks as high as g's, or higher.
func (m *model) notBelow(f, g *fact) bool {
	other, root, _ := m.who(g)
	if root {
		_, is, _ := m.who(f)
		return is
	}
	return !m.isRoot(g) && (m.above(f, other) || m.equalRank(f, other))
}

func (m *model) isRoot(f *fact) bool { _, root, _ := m.who(f); return root }

func (m *model) equalRank(f *fact, cert entry.Certificate) bool {
	author, root, _ := m.who(f)
	return !root && author.Generation == cert.Generation && len(author.Path) == len(cert.Path)
}

// counted lists control entries of one kind that count.
func (m *model) counted(kind entry.BodyKind, above *entry.Certificate) (list []*fact) {
	for _, f := range m.held {
		if f.body.Kind == kind && (above == nil || m.above(f, *above)) && m.counts(f) {
			list = append(list, f)
		}
	}
	return list
}

// grants of a certificate: those that count and whose grantor ranks above it.
func (m *model) grants(data []byte, cert entry.Certificate) (list []*fact) {
	for _, f := range m.counted(entry.KindGrant, &cert) {
		if bytes.Equal(f.body.Grant.Certificate, data) {
			list = append(list, f)
		}
	}
	return list
}

// bound lists the cuts that stand against f's certificate.
func (m *model) bound(f *fact) (list []*fact) {
	cert, _, _ := m.who(f)
	cuts := m.counted(entry.KindCut, &cert)
	for _, c := range cuts {
		if c.body.Cut.Device != entry.DeviceOf(cert.Device) || m.raised(c, cuts) {
			continue
		}
		named := func(g *fact) bool {
			return slices.ContainsFunc(g.body.Grant.Readmits, func(id entry.ID) bool { return replacesInSteps(cuts, c.id, id) })
		}
		if !slices.ContainsFunc(m.grants(f.first.body.Genesis.Certificate, cert), named) {
			list = append(list, c)
		}
	}
	return list
}

func replacesInSteps(cuts []*fact, from, to entry.ID) bool {
	if from == to {
		return true
	}
	for _, c := range cuts {
		if c.id == from {
			return slices.ContainsFunc(c.body.Cut.Replaces, func(next entry.ID) bool { return replacesInSteps(cuts, next, to) })
		}
	}
	return false
}

func (m *model) raised(c *fact, cuts []*fact) bool {
	return slices.ContainsFunc(cuts, func(by *fact) bool {
		if !slices.Contains(by.body.Cut.Replaces, c.id) || by.body.Cut.Device != c.body.Cut.Device ||
			!m.notBelow(by, c) || by.body.Cut.Beyond < c.body.Cut.Beyond {
			return false
		}
		for _, head := range c.body.Cut.Heads {
			f := m.held[head]
			if !slices.Contains(by.body.Cut.Heads, head) && (f == nil || !m.upToAny(f, by.body.Cut.Heads)) {
				return false
			}
		}
		return true
	})
}

// role is what f's certificate lets its author do at that place: a director's
// part, a scout's or, when ok is false, nothing.
func (m *model) role(f *fact) (role entry.Role, ok bool) {
	cert, root, readable := m.who(f)
	if root || !readable {
		return entry.RoleDirector, root
	}
	if len(m.grants(f.first.body.Genesis.Certificate, cert)) == 0 {
		return 0, false
	}
	role = cert.Role
	for _, c := range m.bound(f) {
		if m.upToAny(f, c.body.Cut.Heads) {
			continue
		}
		if c.body.Cut.Beyond == entry.BeyondNothing {
			return 0, false
		}
		role = entry.RoleScout
	}
	return role, true
}

// counts reports whether a control entry counts.
func (m *model) counts(f *fact) bool {
	if counts, known := m.memo[f]; known {
		return counts
	}
	role, ok := m.role(f)
	m.memo[f] = ok && role == entry.RoleDirector && f.first.body.Genesis.Control
	return m.memo[f]
}

func (m *model) status(f *fact) merge.Status {
	if _, known := m.statuses[f]; !known {
		m.statuses[f] = m.decide(f)
	}
	return m.statuses[f]
}

func (m *model) decide(f *fact) merge.Status {
	role, ok := m.role(f)
	cert, root, _ := m.who(f)
	record := f.header.Record
	switch {
	case !ok:
		return merge.SetAside
	case f.prev == nil:
		return merge.Applied
	case record == "":
		if m.counts(f) {
			return merge.Applied
		}
		return merge.NoRight
	case root, f.first.body.Genesis.Control,
		record.Class() == entry.Owned && record.Person() != cert.Person,
		record.Class() == entry.Directors && role != entry.RoleDirector:
		return merge.NoRight
	case f.body.Kind > entry.KindLinkKey:
		return merge.Unread
	case m.erased(f):
		return merge.Erased
	}
	return merge.Applied
}

func (m *model) erased(f *fact) bool {
	if f.body.Kind != entry.KindChanges || f.header.Record.Kind() == entry.KindSameAs {
		return false
	}
	for _, e := range m.counted(entry.KindErasure, nil) {
		if slices.Contains(e.body.Erasure.Records, f.header.Record) ||
			slices.ContainsFunc(e.body.Erasure.Entries, func(x entry.ErasedEntry) bool { return x.ID == f.id && x.Record == f.header.Record }) {
			return true
		}
	}
	return false
}

func (m *model) applied(kind entry.BodyKind, record entry.RecordID) (list []*fact) {
	for _, f := range m.held {
		if f.body.Kind == kind && f.header.Record == record && m.status(f) == merge.Applied {
			list = append(list, f)
		}
	}
	return list
}

// live is the applied writes that no applied write replaces (ledger rule 13),
// erased ones still counting as having replaced.
func (m *model) live(record entry.RecordID) map[entry.Register][]*fact {
	writes := map[entry.Register]map[*fact]bool{}
	gone := map[entry.Register]map[entry.ID]bool{}
	replace := func(r entry.Register, ids []entry.ID) {
		for _, id := range ids {
			if gone[r] == nil {
				gone[r] = map[entry.ID]bool{}
			}
			gone[r][id] = true
		}
	}
	for _, f := range m.applied(entry.KindChanges, record) {
		for r, c := range lastOfEach(f.body.Changes) {
			if writes[r] == nil {
				writes[r] = map[*fact]bool{}
			}
			writes[r][f] = true
			replace(r, c.Replaces)
		}
	}
	for _, e := range m.counted(entry.KindErasure, nil) {
		for _, x := range e.body.Erasure.Entries {
			for _, edge := range x.Edges {
				if x.Record == record && record.Kind() != entry.KindSameAs {
					replace(edge.Register, edge.Replaces)
				}
			}
		}
	}
	live := map[entry.Register][]*fact{}
	for r, set := range writes {
		for f := range set {
			if !gone[r][f.id] {
				live[r] = append(live[r], f)
			}
		}
	}
	return live
}

func lastOfEach(changes []entry.Change) map[entry.Register]entry.Change {
	last := map[entry.Register]entry.Change{}
	for _, c := range changes {
		last[c.Register] = c
	}
	return last
}

func (m *model) records() (list []entry.RecordID) {
	for _, f := range m.held {
		if r := f.header.Record; r != "" && !slices.Contains(list, r) {
			list = append(list, r)
		}
	}
	return list
}

// visibility follows ledger rule 17.
func (m *model) visibility(record entry.RecordID) merge.Visibility {
	had := func(t *fact, f *fact) bool {
		return m.upToAny(f, t.body.Retirement.Heads) && !slices.Contains(t.body.Retirement.SetAside, f.id)
	}
	var standing []*fact
	for _, t := range m.applied(entry.KindRetirement, record) {
		if !slices.ContainsFunc(m.applied(entry.KindKeep, record), func(k *fact) bool { return !had(t, k) }) {
			standing = append(standing, t)
		}
	}
	if len(standing) == 0 || record.Kind() == entry.KindSameAs {
		return merge.Visible
	}
	for _, r := range m.records() {
		if !m.refersTo(r, record, nil) {
			continue
		}
		for _, f := range m.applied(entry.KindChanges, r) {
			if !slices.ContainsFunc(standing, func(t *fact) bool { return had(t, f) }) {
				return merge.Disputed
			}
		}
	}
	return merge.Hidden
}

// refersTo reports whether a record is the other or refers to it in steps.
func (m *model) refersTo(from, to entry.RecordID, via []entry.RecordID) bool {
	if from == to {
		return true
	}
	if slices.Contains(via, from) {
		return false
	}
	for r, facts := range m.live(from) {
		for _, f := range facts {
			c := lastOfEach(f.body.Changes)[r]
			if c.Op == entry.OpReference && entry.RecordID(c.Value).Valid() &&
				m.refersTo(entry.RecordID(c.Value), to, append(slices.Clone(via), from)) {
				return true
			}
		}
	}
	return false
}

// verdict reads a same-as record's live verdicts: all yes, all no, or neither.
func (m *model) verdict(a, b entry.RecordID) (same, apart bool) {
	live := m.live(entry.SameAsID(a, b))[reg(merge.SameVerdict)]
	same, apart = len(live) > 0, len(live) > 0
	for _, f := range live {
		c := lastOfEach(f.body.Changes)[reg(merge.SameVerdict)]
		same = same && c.Op == entry.OpValue && bytes.Equal(c.Value, merge.Yes)
		apart = apart && c.Op == entry.OpValue && bytes.Equal(c.Value, merge.No)
	}
	return same, apart
}

// group is everything that can be reached from a record over undisputed yes.
func (m *model) group(id entry.RecordID, among []entry.RecordID) []entry.RecordID {
	group := []entry.RecordID{id}
	for i := 0; i < len(group); i++ {
		for _, other := range among {
			if same, _ := m.verdict(group[i], other); same && !slices.Contains(group, other) {
				group = append(group, other)
			}
		}
	}
	return group
}

// summary gives the same text as a laptop that comes to the same outcome.
func (m *model) summary(records []entry.RecordID) string {
	var lines []string
	say := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	for _, f := range m.held {
		say("entry %s status %d", f.id, m.status(f))
		m.sayControl(f, say)
	}
	var newer bool
	for _, line := range lines {
		newer = newer || strings.HasPrefix(line, "newer")
	}
	if !newer {
		for _, r := range records {
			m.sayRecord(r, records, say)
		}
		m.sayTorn(records, say)
	}
	slices.Sort(lines)
	return strings.Join(slices.Compact(lines), "\n")
}

func (m *model) sayControl(f *fact, say func(string, ...any)) {
	if f.prev == nil || !f.first.body.Genesis.Control || !m.counts(f) {
		return
	}
	switch {
	case f.body.Kind == entry.KindGrant:
		cert, err := entry.DecodeCertificate(f.body.Grant.Certificate)
		if err == nil && m.above(f, cert) {
			say("grant %s", entry.CertificateOf(f.body.Grant.Certificate))
		}
	case f.body.Kind == entry.KindCut && !m.raised(f, m.counted(entry.KindCut, nil)):
		say("cut %s", f.id)
	case f.body.Kind == entry.KindLinkKey:
		say("link key %s", f.id)
	case f.body.Kind > entry.KindLinkKey:
		say("newer %s", f.id)
	}
}

func (m *model) sayRecord(id entry.RecordID, records []entry.RecordID, say func(string, ...any)) {
	for r, facts := range m.live(id) {
		// Highest (Lamport time, hash) first: ledger rule 14.
		slices.SortFunc(facts, func(a, b *fact) int {
			if a.header.Lamport != b.header.Lamport {
				return int(int64(b.header.Lamport) - int64(a.header.Lamport))
			}
			return bytes.Compare(b.id.Hash[:], a.id.Hash[:])
		})
		for i, f := range facts {
			c := lastOfEach(f.body.Changes)[r]
			say("record %s register %v place %d: %s = %d %x", id, r, i, f.id, c.Op, c.Value)
		}
	}
	say("record %s visibility %d", id, m.visibility(id))
	say("record %s group %s", id, slices.Min(m.group(id, records)))
}

func (m *model) sayTorn(records []entry.RecordID, say func(string, ...any)) {
	for _, a := range records {
		for _, b := range records {
			if _, apart := m.verdict(a, b); a < b && apart && slices.Contains(m.group(a, records), b) {
				say("torn %s %s", a, b)
			}
		}
	}
}

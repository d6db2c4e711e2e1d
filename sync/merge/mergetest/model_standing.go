package mergetest

import (
	"bytes"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// counted lists control entries of one kind that count.
func (m *Model) counted(kind entry.BodyKind, above *entry.Certificate) (list []*Fact) {
	for _, f := range m.held {
		if f.Says.Kind == kind && (above == nil || m.above(f, *above)) && m.counts(f) {
			list = append(list, f)
		}
	}
	return list
}

// grants of a certificate: those that count and whose grantor ranks above it.
func (m *Model) grants(data []byte, cert entry.Certificate) (list []*Fact) {
	for _, f := range m.counted(entry.KindGrant, &cert) {
		if bytes.Equal(f.Says.Grant.Certificate, data) {
			list = append(list, f)
		}
	}
	return list
}

// bound lists the cuts that stand against f's certificate.
func (m *Model) bound(f *Fact) (list []*Fact) {
	cert, _, _ := m.who(f)
	cuts := m.counted(entry.KindCut, &cert)
	for _, c := range cuts {
		if c.Says.Cut.Device != entry.DeviceOf(cert.Device) || m.raised(c, cuts) {
			continue
		}
		named := func(g *Fact) bool {
			return slices.ContainsFunc(g.Says.Grant.Readmits, func(id entry.ID) bool { return replacesInSteps(cuts, c.ID, id) })
		}
		if !slices.ContainsFunc(m.grants(f.First.Says.Genesis.Certificate, cert), named) {
			list = append(list, c)
		}
	}
	return list
}

func replacesInSteps(cuts []*Fact, from, to entry.ID) bool {
	if from == to {
		return true
	}
	for _, c := range cuts {
		if c.ID == from {
			return slices.ContainsFunc(c.Says.Cut.Replaces, func(next entry.ID) bool { return replacesInSteps(cuts, next, to) })
		}
	}
	return false
}

func (m *Model) raised(c *Fact, cuts []*Fact) bool {
	return slices.ContainsFunc(cuts, func(by *Fact) bool {
		if !slices.Contains(by.Says.Cut.Replaces, c.ID) || by.Says.Cut.Device != c.Says.Cut.Device ||
			!m.notBelow(by, c) || by.Says.Cut.Beyond < c.Says.Cut.Beyond {
			return false
		}
		for _, head := range c.Says.Cut.Heads {
			f := m.held[head]
			if !slices.Contains(by.Says.Cut.Heads, head) && (f == nil || !m.upToAny(f, by.Says.Cut.Heads)) {
				return false
			}
		}
		return true
	})
}

// role is what f's certificate lets its author do at that place: a director's
// part, a scout's or, when ok is false, nothing.
func (m *Model) role(f *Fact) (role entry.Role, ok bool) {
	cert, root, readable := m.who(f)
	if root || !readable {
		return entry.RoleDirector, root
	}
	if len(m.grants(f.First.Says.Genesis.Certificate, cert)) == 0 {
		return 0, false
	}
	role = cert.Role
	for _, c := range m.bound(f) {
		if m.upToAny(f, c.Says.Cut.Heads) {
			continue
		}
		if c.Says.Cut.Beyond == entry.BeyondNothing {
			return 0, false
		}
		role = entry.RoleScout
	}
	return role, true
}

// counts reports whether a control entry counts.
func (m *Model) counts(f *Fact) bool {
	if counts, known := m.memo[f]; known {
		return counts
	}
	role, ok := m.role(f)
	m.memo[f] = ok && role == entry.RoleDirector && f.First.Says.Genesis.Control
	return m.memo[f]
}

func (m *Model) status(f *Fact) merge.Status {
	if _, known := m.statuses[f]; !known {
		m.statuses[f] = m.decide(f)
	}
	return m.statuses[f]
}

func (m *Model) decide(f *Fact) merge.Status {
	role, ok := m.role(f)
	cert, root, _ := m.who(f)
	record := f.Header.Record
	switch {
	case !ok:
		return merge.SetAside
	case f.Prev == nil:
		return merge.Applied
	case record == "":
		if m.counts(f) {
			return merge.Applied
		}
		return merge.NoRight
	case root, f.First.Says.Genesis.Control,
		record.Class() == entry.Owned && record.Person() != cert.Person,
		record.Class() == entry.Directors && role != entry.RoleDirector:
		return merge.NoRight
	case f.Says.Kind > entry.KindLinkKey:
		return merge.Unread
	case m.erased(f):
		return merge.Erased
	}
	return merge.Applied
}

func (m *Model) erased(f *Fact) bool {
	if f.Says.Kind != entry.KindChanges || f.Header.Record.Kind() == entry.KindSameAs {
		return false
	}
	for _, e := range m.counted(entry.KindErasure, nil) {
		if slices.Contains(e.Says.Erasure.Records, f.Header.Record) ||
			slices.ContainsFunc(e.Says.Erasure.Entries, func(x entry.ErasedEntry) bool { return x.ID == f.ID && x.Record == f.Header.Record }) {
			return true
		}
	}
	return false
}

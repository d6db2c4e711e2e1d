package mergetest

import (
	"bytes"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Model is the rules read out loud: sets of facts, followed by their links and
// looked at again for every question. It shares no code with package merge
// beyond names of outcomes, has no branches, no order of judging and no state,
// and is slow.
type Model struct {
	staff entry.StaffID
	held  map[entry.ID]*Fact
	// These only keep the recursion, and looking for what says something of a
	// record, from taking forever.
	on       map[entry.RecordID][]*Fact
	memo     map[*Fact]bool
	statuses map[*Fact]merge.Status
}

// NewModel reads the rules of a world of which these facts are held.
func NewModel(w *World, facts []*Fact) *Model {
	m := &Model{
		staff: w.Staff, held: map[entry.ID]*Fact{}, on: map[entry.RecordID][]*Fact{}, memo: map[*Fact]bool{}, statuses: map[*Fact]merge.Status{},
	}
	for _, f := range facts {
		if m.held[f.ID] == nil {
			m.held[f.ID], m.on[f.Header.Record] = f, append(m.on[f.Header.Record], f)
		}
	}
	return m
}

// upTo reports whether f is the entry that the head names, or lies before it.
// A head that isn't held proves nothing (ledger rule 23).
func (m *Model) upTo(f *Fact, head entry.ID) bool {
	for at := m.held[head]; at != nil; at = at.Prev {
		if at == f {
			return true
		}
	}
	return false
}

func (m *Model) upToAny(f *Fact, heads []entry.ID) bool {
	return slices.ContainsFunc(heads, func(h entry.ID) bool { return m.upTo(f, h) })
}

// who reads whose log it is: its certificate, or the root's own.
func (m *Model) who(f *Fact) (cert entry.Certificate, root, ok bool) {
	g := f.First.Says.Genesis
	if g.Control && len(g.Certificate) == 0 && entry.StaffOf(g.Device) == m.staff {
		return cert, true, true
	}
	cert, err := entry.DecodeCertificate(g.Certificate)
	return cert, false, err == nil && bytes.Equal(cert.Device, g.Device)
}

// above reports whether the author of f ranks above the certificate.
func (m *Model) above(f *Fact, cert entry.Certificate) bool {
	author, root, ok := m.who(f)
	return ok && (root || author.Generation > cert.Generation ||
		author.Generation == cert.Generation && len(author.Path) < len(cert.Path))
}

// notBelow reports whether the author of f ranks as high as g's, or higher.
func (m *Model) notBelow(f, g *Fact) bool {
	other, root, _ := m.who(g)
	if root {
		_, is, _ := m.who(f)
		return is
	}
	return !m.isRoot(g) && (m.above(f, other) || m.equalRank(f, other))
}

func (m *Model) isRoot(f *Fact) bool { _, root, _ := m.who(f); return root }

func (m *Model) equalRank(f *Fact, cert entry.Certificate) bool {
	author, root, _ := m.who(f)
	return !root && author.Generation == cert.Generation && len(author.Path) == len(cert.Path)
}

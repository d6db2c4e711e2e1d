package mergetest

import (
	"bytes"
	"slices"

	"plumbline/sync/entry"
)

// Outcome gives the same text as a laptop that comes to the same outcome.
func (m *Model) Outcome(records []entry.RecordID) string {
	var o Outcome
	for _, f := range m.held {
		o.Entry(f.ID, m.status(f))
	}
	m.sayControl(&o)
	if !m.Newer() {
		for _, r := range records {
			m.sayRecord(&o, r)
			o.Visibility(r, m.visibility(r))
			group := m.group(r, records)
			o.Group(r, slices.Min(group))
			m.sayTorn(&o, r, group)
		}
	}
	return o.String()
}

// Newer reports whether a control entry counts that this program can't read.
func (m *Model) Newer() bool {
	for _, f := range m.held {
		if f.Says.Kind > entry.KindLinkKey && m.decrees(f) {
			return true
		}
	}
	return false
}

// decrees reports whether an entry counts that says something in a control log.
func (m *Model) decrees(f *Fact) bool {
	return f.Prev != nil && f.First.Says.Genesis.Control && m.counts(f)
}

func (m *Model) sayControl(o *Outcome) {
	granted := map[entry.CertificateID]bool{}
	for _, f := range m.held {
		if !m.decrees(f) {
			continue
		}
		switch {
		case f.Says.Kind == entry.KindGrant:
			cert, err := entry.DecodeCertificate(f.Says.Grant.Certificate)
			if err == nil && m.above(f, cert) {
				granted[entry.CertificateOf(f.Says.Grant.Certificate)] = true
			}
		case f.Says.Kind == entry.KindCut && !m.raised(f, m.counted(entry.KindCut, nil)):
			o.Cut(f.ID)
		case f.Says.Kind == entry.KindLinkKey:
			o.LinkKey(f.ID, m.usable(f))
		case f.Says.Kind > entry.KindLinkKey:
			o.Newer(f.ID)
		}
	}
	for id := range granted {
		o.Grant(id)
	}
}

// usable reports whether the author of a link key had seen each revocation that
// stands (ledger rule 32).
func (m *Model) usable(key *Fact) bool {
	cuts := m.counted(entry.KindCut, nil)
	return !slices.ContainsFunc(cuts, func(c *Fact) bool {
		return c.Says.Cut.Beyond == entry.BeyondNothing && !m.raised(c, cuts) &&
			!m.upToAny(c, append([]entry.ID{key.ID}, key.Says.LinkKey.Seen...))
	})
}

func (m *Model) sayRecord(o *Outcome, id entry.RecordID) {
	for r, facts := range m.live(id) {
		// Highest (Lamport time, hash) first: ledger rule 14.
		slices.SortFunc(facts, func(a, b *Fact) int {
			if a.Header.Lamport != b.Header.Lamport {
				return int(int64(b.Header.Lamport) - int64(a.Header.Lamport))
			}
			return bytes.Compare(b.ID.Hash[:], a.ID.Hash[:])
		})
		for place, f := range facts {
			c := lastOfEach(f.Says.Changes)[r]
			o.Live(id, r, place, f.ID, c.Op, c.Value)
		}
	}
}

func (m *Model) sayTorn(o *Outcome, a entry.RecordID, group []entry.RecordID) {
	for _, b := range group {
		if _, apart := m.verdict(a, b); a < b && apart {
			o.Torn(a, b)
		}
	}
}

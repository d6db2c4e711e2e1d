package mergetest

import (
	"bytes"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func (m *Model) applied(kind entry.BodyKind, record entry.RecordID) (list []*Fact) {
	for _, f := range m.on[record] {
		if f.Says.Kind == kind && m.status(f) == merge.Applied {
			list = append(list, f)
		}
	}
	return list
}

// live is the applied writes that no applied write replaces (ledger rule 13),
// erased ones still counting as having replaced.
func (m *Model) live(record entry.RecordID) map[entry.Register][]*Fact {
	writes := map[entry.Register]map[*Fact]bool{}
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
		for r, c := range lastOfEach(f.Says.Changes) {
			if writes[r] == nil {
				writes[r] = map[*Fact]bool{}
			}
			writes[r][f] = true
			replace(r, c.Replaces)
		}
	}
	for _, e := range m.counted(entry.KindErasure, nil) {
		for _, x := range e.Says.Erasure.Entries {
			for _, edge := range x.Edges {
				if x.Record == record && record.Kind() != entry.KindSameAs {
					replace(edge.Register, edge.Replaces)
				}
			}
		}
	}
	live := map[entry.Register][]*Fact{}
	for r, set := range writes {
		for f := range set {
			if !gone[r][f.ID] {
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

func (m *Model) records() (list []entry.RecordID) {
	for r := range m.on {
		if r != "" {
			list = append(list, r)
		}
	}
	return list
}

// visibility follows ledger rule 17.
func (m *Model) visibility(record entry.RecordID) merge.Visibility {
	had := func(t *Fact, f *Fact) bool {
		return m.upToAny(f, t.Says.Retirement.Heads) && !slices.Contains(t.Says.Retirement.SetAside, f.ID)
	}
	var standing []*Fact
	for _, t := range m.applied(entry.KindRetirement, record) {
		if !slices.ContainsFunc(m.applied(entry.KindKeep, record), func(k *Fact) bool { return !had(t, k) }) {
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
			if !slices.ContainsFunc(standing, func(t *Fact) bool { return had(t, f) }) {
				return merge.Disputed
			}
		}
	}
	return merge.Hidden
}

// refersTo reports whether a record is the other or refers to it in steps.
func (m *Model) refersTo(from, to entry.RecordID, via []entry.RecordID) bool {
	if from == to {
		return true
	}
	if slices.Contains(via, from) {
		return false
	}
	for r, facts := range m.live(from) {
		for _, f := range facts {
			c := lastOfEach(f.Says.Changes)[r]
			if c.Op == entry.OpReference && entry.RecordID(c.Value).Valid() &&
				m.refersTo(entry.RecordID(c.Value), to, append(slices.Clone(via), from)) {
				return true
			}
		}
	}
	return false
}

// verdict reads a same-as record's live verdicts: all yes, all no, or neither.
func (m *Model) verdict(a, b entry.RecordID) (same, apart bool) {
	live := m.live(entry.SameAsID(a, b))[Reg(merge.SameVerdict)]
	same, apart = len(live) > 0, len(live) > 0
	for _, f := range live {
		c := lastOfEach(f.Says.Changes)[Reg(merge.SameVerdict)]
		same = same && c.Op == entry.OpValue && bytes.Equal(c.Value, merge.Yes)
		apart = apart && c.Op == entry.OpValue && bytes.Equal(c.Value, merge.No)
	}
	return same, apart
}

// group is everything that can be reached from a record over undisputed yes.
func (m *Model) group(id entry.RecordID, among []entry.RecordID) []entry.RecordID {
	group := []entry.RecordID{id}
	for i := 0; i < len(group); i++ {
		for _, other := range among {
			if slices.Contains(group, other) {
				continue
			}
			if same, _ := m.verdict(group[i], other); same {
				group = append(group, other)
			}
		}
	}
	return group
}

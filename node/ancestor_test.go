package node

import (
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// apartOn lets two laptops write one field without having heard of each other.
func apartOn(t *testing.T, a, b *laptop, id entry.RecordID, field, first, second string) {
	t.Helper()
	a.alone()
	b.alone()
	a.set(id, field, first)
	b.set(id, field, second)
	a.restart()
	b.restart()
	connect(t, a, b)
}

func (l *laptop) settle(id entry.RecordID, field, text string) {
	l.t.Helper()
	_, err := l.Settle(l.t.Context(), Settlement{Record: id.String(), Set: Set{Field: field, Text: text, Seen: l.shown(id, field)}})
	require.NoError(l.t, err)
}

func (l *laptop) ancestor(id entry.RecordID) *Value {
	l.t.Helper()
	conflicts, err := l.Conflicts(l.t.Context(), id.String())
	require.NoError(l.t, err)
	require.Len(l.t, conflicts, 1)
	return conflicts[0].Ancestor
}

func TestAConflictSaysWhatStoodThereBefore(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale", "note", "Long arms.")
	connect(t, a, b)
	a.set(id, "note", "Long arms, quick feet.")
	agree(t, a, b)
	apartOn(t, a, b, id, "note", "Very long arms, quick feet.", "Long arms, quick feet. Late hands.")
	for _, l := range []*laptop{a, b} {
		before := l.ancestor(id)
		require.NotNil(t, before)
		require.Equal(t, "Long arms, quick feet.", before.Text)
		require.Equal(t, "Maren Ostrava", before.Author.Name)
		require.Equal(t, id, before.Record)
	}
	// Two settle it at once, each in another way: neither began with one value.
	a.alone()
	b.alone()
	a.settle(id, "note", "Very long arms.")
	b.settle(id, "note", "Late hands.")
	a.restart()
	b.restart()
	connect(t, a, b)
	require.Nil(t, a.ancestor(id))
}

// Joined records are settled in each; what was there before stands in each, too.
func TestTheAncestorOfJoinedRecords(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	first := a.add("prospect", "name", "Orrin Vale", "note", "Long arms.")
	second := a.add("prospect", "name", "Orin Vale", "note", "Late hands.")
	_, err := a.Same(t.Context(), first.String(), second.String(), false)
	require.NoError(t, err)
	a.settle(first, "name", "Orrin Vale")
	require.Nil(t, a.ancestor(first), "two wrote it from nothing")
	a.settle(first, "note", "Long arms, late hands.")
	connect(t, a, b)
	apartOn(t, a, b, first, "note", "Long arms, late hands, strong.", "Long arms, very late hands.")
	require.Equal(t, "Long arms, late hands.", b.ancestor(first).Text)
}

func TestAnErasedTextIsNoAncestor(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale")
	a.set(id, "note", "Long arms.")
	connect(t, a, b)
	written := a.field(id, "note").Values[0].ID
	apartOn(t, a, b, id, "note", "Very long arms.", "Long arms, late hands.")
	erasure := entry.Erasure{Entries: []entry.ErasedEntry{{ID: written, Record: id}}}
	require.NoError(t, a.step(Save{Drafts: []Draft{{Body: entry.Body{Kind: entry.KindErasure, Erasure: &erasure}}}}).Err)
	require.Nil(t, a.ancestor(id))
}

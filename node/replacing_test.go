package node

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// same says what two records are, having seen what was said before.
func (l *laptop) same(first, second entry.RecordID, apart bool) {
	l.t.Helper()
	r := l.reader(l.t.Context())
	_, err := l.Same(l.t.Context(), first.String(), second.String(), apart, idsOf(r.said(first, second))...)
	require.NoError(l.t, err)
}

// refusedUnseen wants ledger rule 12's refusal: nothing is written, and it names
// each id to pass.
func (l *laptop) refusedUnseen(values []Value, call func() error) {
	l.t.Helper()
	before, err := l.Status(l.t.Context())
	require.NoError(l.t, err)
	err = call()
	refused(l.t, err, ErrUnseen)
	_, named, _ := strings.Cut(err.Error(), "--seen ")
	require.ElementsMatch(l.t, idsOf(values), strings.Split(named, ","))
	for _, v := range values {
		require.ErrorContains(l.t, err, v.Text+"  ("+v.Author.Name)
	}
	after, err := l.Status(l.t.Context())
	require.NoError(l.t, err)
	require.Equal(l.t, before.StateHash, after.StateHash)
}

func TestRule12SettlingReplacesWhatIsNamedAndNothingElse(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	connect(t, a, b)
	apartOn(t, a, b, id, "school", "Harbor Point", "Pine Bluffs")
	values := a.field(id, "school").Values
	require.Len(t, values, 2)
	for _, s := range []Settlement{
		{Set: Set{Field: "school", Text: "Low Ridge"}}, {Set: Set{Field: "school", Clear: true}},
		{Set: Set{Field: "school"}, Choose: values[1].ID.String()},
	} {
		s.Record = id.String()
		a.refusedUnseen(values, func() error {
			_, err := a.Settle(t.Context(), s)
			return err
		})
	}
	// The second one came after the reader had looked.
	_, err := a.Settle(t.Context(), Settlement{Record: id.String(), Set: Set{Field: "school", Text: "Low Ridge", Seen: idsOf(values[:1])}})
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"Low Ridge", values[1].Text}, a.texts(id, "school"))
	require.True(t, a.field(id, "school").Conflict)
	a.settle(id, "school", "Low Ridge")
	require.Equal(t, []string{"Low Ridge"}, a.texts(id, "school"))
	a.refusedUnseen(a.field(id, "school").Values, func() error {
		_, err := a.Settle(t.Context(), Settlement{Record: id.String(), Set: Set{Field: "school", Text: "Salt Lick"}})
		return err
	})
}

func TestRule12FilingAgainReplacesWhatIsNamed(t *testing.T) {
	a := found(t)
	p := a.add("prospect", "name", "Orrin Vale")
	e := a.add("evaluation", "prospect", p.String(), "overall", "6", "filed", "2026-03-01")
	filed := a.field(e, "filed").Values
	a.refusedUnseen(filed, func() error {
		_, err := a.File(t.Context(), e.String())
		return err
	})
	_, err := a.File(t.Context(), e.String(), idsOf(filed)...)
	require.NoError(t, err)
	today := a.texts(e, "filed")
	require.Len(t, today, 1)
	require.NotEqual(t, filed[0].Text, today[0])
	// Again on the same day there is nothing to replace.
	_, err = a.File(t.Context(), e.String())
	require.NoError(t, err)
}

func TestRule12WhatWasSaidOfTwoIsReplacedIfNamed(t *testing.T) {
	a := found(t)
	var ids []entry.RecordID
	for _, name := range []string{"Orrin Vale", "Orin Vale", "Oren Vahl"} {
		ids = append(ids, a.add("prospect", "name", name))
	}
	say := func(first, second int, apart bool, seen ...string) (Sameness, error) {
		return a.Same(t.Context(), ids[first].String(), ids[second].String(), apart, seen...)
	}
	joined, err := say(0, 1, false)
	require.NoError(t, err)
	require.Len(t, joined.Said, 1)
	_, err = say(0, 1, false) // a retry says nothing new
	require.NoError(t, err)
	a.refusedUnseen(joined.Said, func() error { _, err := say(0, 1, true); return err })
	parted, err := say(0, 1, true, idsOf(joined.Said)...)
	require.NoError(t, err)
	require.Len(t, parted.Record.Members, 1)
	a.refusedUnseen(parted.Said, func() error { _, err := say(0, 1, false); return err })
	_, err = say(0, 1, false, idsOf(parted.Said)...)
	require.NoError(t, err)

	// Out of a group of three: each pair across is answered, or none.
	three, err := say(0, 2, false)
	require.NoError(t, err)
	require.Len(t, three.Record.Members, 3)
	two, err := say(1, 2, false)
	require.NoError(t, err)
	require.Len(t, two.Said, 2)
	a.refusedUnseen(two.Said, func() error { _, err := say(0, 2, true); return err })
	a.refusedUnseen(two.Said, func() error { _, err := say(0, 2, true, two.Said[0].ID.String()); return err })
	_, err = say(0, 2, true, a.shown(ids[0], "name")...)
	refused(t, err, ErrInvalid)
	out, err := say(0, 2, true, idsOf(two.Said)...)
	require.NoError(t, err)
	require.ElementsMatch(t, ids[:2], out.Record.Members)
}

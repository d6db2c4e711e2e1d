package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAWriteReplacesOnlyWhatItsWriterSaw(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Harbor Point"}}}})
	refused(t, err, ErrUnseen)
	old := a.field(id, "school").Values[0].ID.String()
	require.ErrorContains(t, err, old)
	a.set(id, "school", "Harbor Point")
	require.Equal(t, []string{"Harbor Point"}, a.texts(id, "school"))
	// An edit from a stale screen is kept beside what it hadn't seen.
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: []string{old}}}}})
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"Harbor Point", "Pine Bluffs"}, a.texts(id, "school"))
	require.True(t, a.field(id, "school").Conflict)
}

func TestAConflictStandsUntilItIsSettled(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale", "position", "tackle")
	connect(t, a, b)
	a.alone()
	b.alone()
	a.set(id, "position", "guard")
	b.set(id, "position", "center")
	a.restart()
	b.restart()
	connect(t, a, b)
	for _, l := range []*laptop{a, b} {
		require.ElementsMatch(t, []string{"guard", "center"}, l.texts(id, "position"))
		conflicts, err := l.Conflicts(t.Context(), "")
		require.NoError(t, err)
		require.Len(t, conflicts, 1)
	}
	require.Equal(t, a.texts(id, "position"), b.texts(id, "position"), "both show the same one first")
	_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "position", Text: "tackle"}}}})
	refused(t, err, ErrDisputed)
	require.ErrorContains(t, err, "plumbline settle")
	choice := b.field(id, "position").Values[1]
	_, err = b.Settle(t.Context(), Settlement{Record: id.String(), Set: Set{Field: "position", Seen: b.shown(id, "position")}, Choose: choice.ID.String()})
	require.NoError(t, err)
	agree(t, a, b)
	require.Equal(t, []string{choice.Text}, a.texts(id, "position"))
	history, err := a.History(t.Context(), id.String())
	require.NoError(t, err)
	require.Len(t, history, 4, "nothing is gone: first, two edits, the settling")
}

func TestARetryWritesNothingTwice(t *testing.T) {
	a := found(t)
	w := []Write{{Kind: "prospect", NewID: "aaaaaaaaaaaaaaaaaaaaaaaaae", Sets: sets([]string{"name", "Orrin Vale"})}}
	first, err := a.Write(t.Context(), w)
	require.NoError(t, err)
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	second, err := a.Write(t.Context(), w)
	require.NoError(t, err)
	require.Equal(t, first, second)
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
}

func TestBadInputStoresNothing(t *testing.T) {
	a := found(t)
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	for name, w := range map[string]Write{
		"unknown kind":     {Kind: "prospekt", Sets: sets([]string{"name", "Orrin Vale"})},
		"unknown field":    {Kind: "prospect", Sets: sets([]string{"name", "Orrin Vale", "scool", "x"})},
		"unknown position": {Kind: "prospect", Sets: sets([]string{"name", "Orrin Vale", "position", "wingback"})},
		"no name":          {Kind: "prospect", Sets: sets([]string{"school", "Salt Lick"})},
		"a bad id":         {Kind: "prospect", NewID: "zz", Sets: sets([]string{"name", "Orrin Vale"})},
	} {
		_, err := a.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Good One"})}, w})
		require.Errorf(t, err, name)
		refused(t, err, ErrInvalid)
	}
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
	require.Equal(t, before.StateHash, after.StateHash)
}

func TestDoublesAreSuggestedJoinedSettledAndSplit(t *testing.T) {
	a := found(t)
	first := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "jersey", "71")
	second := a.add("prospect", "name", "Orin Vale", "school", "Salt Lick", "jersey", "75")
	a.add("measurement", "prospect", first.String(), "what", "arm", "reading", "334 verified 2026-03-01")
	a.add("look", "prospect", second.String(), "mode", "film")
	doubles, err := a.Doubles(t.Context())
	require.NoError(t, err)
	require.Len(t, doubles, 1)
	_, err = a.Same(t.Context(), first.String(), second.String(), false)
	require.NoError(t, err)
	l, err := a.List(t.Context(), ListQuery{Where: "arm >= 334 && looks == 1"})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1, "what is known of both is known of the one")
	require.ElementsMatch(t, []string{"71", "75"}, a.texts(first, "jersey"))
	a.settle(second, "jersey", "71")
	for _, v := range a.field(first, "jersey").Values {
		require.Equal(t, "71", v.Text)
	}
	// Both names find the one record now; its ids are what it is split by.
	_, err = a.Same(t.Context(), "Orrin Vale", "Orin Vale", true)
	require.ErrorIs(t, err, ErrInvalid)
	require.ErrorContains(t, err, first.String())
	require.ErrorContains(t, err, second.String())
	a.same(first, second, true)
	l, err = a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 2)
	doubles, err = a.Doubles(t.Context())
	require.NoError(t, err)
	require.Empty(t, doubles, "somebody said no")
}

func TestRetiringHidesWhatWasReadAndNothingElse(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale")
	connect(t, a, b)
	b.alone()
	a.alone()
	a.retire(id.String())
	l, err := a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Empty(t, l.Rows)
	b.add("look", "prospect", id.String(), "mode", "live")
	a.restart()
	b.restart()
	connect(t, a, b)
	conflicts, err := a.Conflicts(t.Context(), "")
	require.NoError(t, err)
	require.Len(t, conflicts, 1)
	require.Equal(t, "retirement", conflicts[0].About)
	a.keep(id.String())
	agree(t, a, b)
	conflicts, err = b.Conflicts(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, conflicts)
}

func TestFilingNeedsAGrade(t *testing.T) {
	a := found(t)
	p := a.add("prospect", "name", "Orrin Vale")
	e := a.add("evaluation", "prospect", p.String(), "grades.hand_use", "6")
	_, err := a.File(t.Context(), e.String())
	refused(t, err, ErrInvalid)
	a.set(e, "overall", "6")
	_, err = a.File(t.Context(), e.String())
	require.NoError(t, err)
	l, err := a.List(t.Context(), ListQuery{Where: `filed == 1 && overall == 6.0 && grades.hand_use >= 6.0 && !(grades.anchor > 1.0)`})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
}

func TestWhoSawAValueSawAllThatAreEqual(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	a.alone()
	a.load("prospect", class)
	b.load("prospect", class)
	a.restart()
	connect(t, a, b)
	l, err := a.List(t.Context(), ListQuery{Search: "Orrin"})
	require.NoError(t, err)
	id := l.Rows[0].ID
	years := a.field(id, "class_year").Values
	require.Len(t, years, 2)
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "class_year", Text: "2028", Seen: []string{years[1].ID.String()}}}}})
	require.NoError(t, err)
	require.Equal(t, []string{"2028"}, a.texts(id, "class_year"))
}

func TestARetiredRecordIsFoundByItsName(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	a.retire("Orrin Vale")
	a.keep("Orrin Vale")
	l, err := a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
	require.Equal(t, id, l.Rows[0].ID)
}

func TestAnOpinionThatChangedCountsOnce(t *testing.T) {
	a := found(t)
	p := a.add("prospect", "name", "Orrin Vale")
	a.add("evaluation", "prospect", p.String(), "overall", "3")
	a.add("evaluation", "prospect", p.String(), "overall", "7")
	l, err := a.List(t.Context(), ListQuery{Where: "overall == 7.0 && evaluations == 2"})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
}

func TestOnlyTheStaffsFactorsAreGraded(t *testing.T) {
	a := found(t)
	p := a.add("prospect", "name", "Orrin Vale")
	before := a.add("evaluation", "prospect", p.String(), "grades.swagger", "6")
	a.add("factor", "name", "hand_use")
	e := a.add("evaluation", "prospect", p.String(), "grades.hand_use", "6")
	_, err := a.Write(t.Context(), []Write{{Record: e.String(), Sets: sets([]string{"grades.hand_us", "6"})}})
	refused(t, err, ErrInvalid)
	require.ErrorContains(t, err, "did you mean hand_use?")

	// A table is held to the same: its row is left out, and what was graded before there
	// were factors stays, comes back from an export untouched, and can be cleared.
	q := ImportRequest{Kind: "evaluation", Partial: true, Data: []byte("name,school,class_year,grades.hand_us\nWes Tarn,Low Ridge,2027,6\nAda Nye,Low Ridge,2027,\n")}
	r, err := a.Import(t.Context(), q)
	require.NoError(t, err)
	require.Len(t, r.Errors, 1)
	require.Equal(t, [4]any{2, "grades.hand_us", "6", 1}, [4]any{r.Errors[0].Line, r.Errors[0].Column, r.Errors[0].Value, r.Skipped})
	require.Contains(t, r.Errors[0].Rule, "did you mean hand_use?")
	q.Data = a.exported("evaluation")
	require.Contains(t, string(q.Data), "grades.swagger")
	r, err = a.Import(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, [3]int{0, 0, 3}, [3]int{len(r.Errors), r.Changed, r.Unchanged})
	l, err := a.List(t.Context(), ListQuery{Kind: "evaluation", Where: "grades.swagger == 6"})
	require.NoError(t, err)
	require.Equal(t, 1, l.Total)
	_, err = a.Write(t.Context(), []Write{{Record: before.String(), Sets: []Set{{Field: "grades.swagger", Clear: true, Seen: idsOf(a.field(before, "grades.swagger").Values)}}}})
	require.NoError(t, err)
}

func TestATornPairNamesBothByTheirOwnNames(t *testing.T) {
	for kind, own := range map[string]bool{"prospect": true, "game": false} {
		t.Run(kind, func(t *testing.T) {
			a := found(t)
			fields := func(name string) []string { return []string{"name", name} }
			if kind == "game" {
				fields = func(name string) []string { return []string{"date", "2026-09-18", "home", name, "away", "Salt Lick"} }
			}
			var ids []string
			for _, name := range []string{"Orrin Vale", "Orin Vale", "Oren Vahl"} {
				ids = append(ids, a.add(kind, fields(name)...).String())
			}
			for _, say := range []struct {
				first, second int
				apart         bool
			}{{0, 2, true}, {0, 1, false}, {1, 2, false}} {
				_, err := a.Same(t.Context(), ids[say.first], ids[say.second], say.apart)
				require.NoError(t, err)
			}
			conflicts, err := a.Conflicts(t.Context(), "")
			require.NoError(t, err)
			var torn []Conflict
			for _, c := range conflicts {
				if c.About == "same" {
					torn = append(torn, c)
				}
			}
			require.Len(t, torn, 1)
			require.ElementsMatch(t, []string{ids[0], ids[2]}, []string{torn[0].Record.String(), torn[0].Other.String()})
			if own {
				require.ElementsMatch(t, []string{"Orrin Vale", "Oren Vahl"}, []string{torn[0].Title, torn[0].OtherTitle})
			}
			_, err = a.Same(t.Context(), torn[0].Record.String(), torn[0].Other.String(), true, idsOf(torn[0].Said)...)
			require.NoError(t, err)
			conflicts, err = a.Conflicts(t.Context(), "")
			require.NoError(t, err)
			for _, c := range conflicts {
				require.NotEqual(t, "same", c.About)
			}
		})
	}
}

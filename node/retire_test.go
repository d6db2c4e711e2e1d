package node

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// met is two laptops that hold a prospect with a look and a rep, and are apart.
func met(t *testing.T) (a, b *laptop, id, look entry.RecordID) {
	a = found(t)
	b = join(t, a, "Tove Lund", false)
	connect(t, a, b)
	id = a.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	look = b.add("look", "prospect", id.String(), "mode", "live")
	b.add("rep", "look", look.String(), "number", "1", "result", "won")
	agree(t, a, b)
	a.alone()
	b.alone()
	return a, b, id, look
}

// meet lets two laptops meet and stay together.
func meet(t *testing.T, a, b *laptop) {
	t.Helper()
	a.restart()
	b.restart()
	connect(t, a, b)
}

func (l *laptop) visibility(id entry.RecordID) merge.Visibility {
	l.t.Helper()
	d, err := l.Get(l.t.Context(), id.String(), false, "")
	require.NoError(l.t, err)
	return d.Record.Visibility
}

// What comes in between the screen and the press isn't covered, on the record
// itself, on what refers to it, or as something new: it keeps the record in
// sight, everywhere, and is told.
func TestRule17AnEditBetweenScreenAndPressStaysInSight(t *testing.T) {
	for name, arrives := range map[string]func(b *laptop, id, look entry.RecordID){
		"on the record":         func(b *laptop, id, _ entry.RecordID) { b.set(id, "school", "Salt Lick") },
		"on what refers to it":  func(b *laptop, _, look entry.RecordID) { b.set(look, "mode", "film") },
		"new, referring to it":  func(b *laptop, id, _ entry.RecordID) { b.add("note", "prospect", id.String(), "text", "quiet feet") },
		"new, in several steps": func(b *laptop, _, look entry.RecordID) { b.add("rep", "look", look.String(), "number", "2") },
	} {
		t.Run(name, func(t *testing.T) {
			a, b, id, look := met(t)
			drawn := a.asOf(id.String())
			arrives(b, id, look)
			meet(t, a, b)
			d, err := a.Get(t.Context(), id.String(), false, drawn)
			require.NoError(t, err)
			require.NotEqual(t, drawn, d.AsOf)
			require.Equal(t, 1, d.Arrived.Total)
			require.Equal(t, "Tove Lund", d.Arrived.Revisions[0].Author.Name)
			_, err = a.Retire(t.Context(), id.String(), "")
			refused(t, err, ErrUnseen)

			retired, err := a.Retire(t.Context(), id.String(), drawn)
			require.NoError(t, err)
			require.Equal(t, merge.Disputed, retired.Record.Visibility)
			require.Equal(t, d.Arrived, retired.Unread)
			agree(t, a, b)
			for _, l := range []*laptop{a, b} {
				conflicts, err := l.Conflicts(t.Context(), "")
				require.NoError(t, err)
				require.Len(t, conflicts, 1)
				require.Equal(t, "retirement", conflicts[0].About)
				require.Regexp(t, `^retired by `+a.name+` \(20\d\d-\d\d-\d\d \d\d:\d\d\) without having read everything`, conflicts[0].Advice)
				require.Equal(t, d.Arrived.Revisions[0].ID, conflicts[0].Unread.Revisions[0].ID)
			}
			// Whoever has read the conflict settles it.
			conflicts, err := b.Conflicts(t.Context(), "")
			require.NoError(t, err)
			retired, err = b.Retire(t.Context(), id.String(), conflicts[0].AsOf)
			require.NoError(t, err)
			require.Equal(t, merge.Hidden, retired.Record.Visibility)
			require.Zero(t, retired.Unread.Total)
			agree(t, a, b)
			require.Equal(t, merge.Hidden, a.visibility(id))
		})
	}
}

// Nothing has come in: the screen may be as old as it likes, and the node may
// have been started again since.
func TestRule17WhatWasReadIsRetiredAfterARestartToo(t *testing.T) {
	a, b, id, _ := met(t)
	drawn := a.asOf(id.String())
	b.add("prospect", "name", "Wes Tarn") // of no concern
	meet(t, a, b)
	a.restart()
	require.Equal(t, drawn, a.asOf(id.String()))
	retired, err := a.Retire(t.Context(), id.String(), drawn)
	require.NoError(t, err)
	require.Equal(t, merge.Hidden, retired.Record.Visibility)
	require.Zero(t, retired.Unread.Total)
}

// What didn't count when it was read hasn't been read, though it lies before what
// was (ledger rule 17: set-aside entries below the heads are listed).
func TestRule17WhatCameToCountSinceIsNotCovered(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	connect(t, a, b)
	id := a.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	assignment := b.add("assignment", "person", "Tove Lund", "prospect", id.String(), "note", "see him live")
	agree(t, a, b)
	a.alone()
	b.alone()
	_, err := a.Revoke(t.Context(), "Tove Lund", true)
	require.NoError(t, err)
	b.set(assignment, "note", "see him twice")
	b.set(id, "school", "Salt Lick")
	meet(t, a, b)
	require.Equal(t, []string{"see him live"}, a.texts(assignment, "note"), "a scout by now")
	require.Equal(t, []string{"Salt Lick"}, a.texts(id, "school"))
	drawn := a.asOf(id.String())
	_, err = a.Accept(t.Context(), "Tove Lund", a.aside(0).AsOf, false)
	require.NoError(t, err)
	require.Equal(t, []string{"see him twice"}, a.texts(assignment, "note"))
	retired, err := a.Retire(t.Context(), id.String(), drawn)
	require.NoError(t, err)
	require.Equal(t, merge.Disputed, retired.Record.Visibility)
	require.Equal(t, 1, retired.Unread.Total)
	require.Equal(t, assignment, retired.Unread.Revisions[0].Record)
}

// A record that was joined to another one since was never read under it: it is
// not retired with it.
func TestRule17ARecordThatWasJoinedSinceIsNotRetired(t *testing.T) {
	a := found(t)
	first, second := a.add("prospect", "name", "Orrin Vale"), a.add("prospect", "name", "Orin Vale", "school", "Salt Lick")
	drawn := a.asOf(first.String())
	_, err := a.Same(t.Context(), first.String(), second.String(), false)
	require.NoError(t, err)
	_, err = a.Retire(t.Context(), first.String(), drawn)
	require.NoError(t, err)
	require.NotEqual(t, merge.Hidden, a.visibility(second))
	require.Equal(t, []string{"Salt Lick"}, a.texts(second, "school"))
	a.retire(first.String())
	require.Equal(t, merge.Hidden, a.visibility(second))
}

// A keep answers the retirements that its author had read of. One that has come
// over since is told of, and nothing is written.
func TestRule17AKeepAnswersOnlyWhatWasRead(t *testing.T) {
	a, b, id, _ := met(t)
	a.retire(id.String())
	drawn := a.asOf(id.String())
	b.set(id, "school", "Salt Lick")
	b.retire(id.String())
	meet(t, a, b)
	require.Equal(t, merge.Hidden, a.visibility(id))
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	for asOf, reason := range map[string]error{"": ErrUnseen, drawn: ErrUnseen} {
		_, err := a.Keep(t.Context(), id.String(), asOf)
		refused(t, err, reason)
	}
	_, err = a.Keep(t.Context(), id.String(), drawn)
	require.ErrorContains(t, err, "by Tove Lund")
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
	require.Equal(t, merge.Visible, a.keep(id.String()).Visibility)
	// What nobody retired stays anyway, and needs no entry.
	_, err = a.Keep(t.Context(), id.String(), "")
	require.NoError(t, err)
}

// What an answer showed of what refers to a record can be retired by the same
// answer: a look, a rep of it. What came to refer to it since was not shown.
func TestRule17WhatWasShownBesideIsRetiredAsItWasShown(t *testing.T) {
	a, b, id, look := met(t)
	drawn := a.asOf(id.String())
	later := b.add("note", "prospect", id.String(), "text", "quiet feet")
	other := b.add("prospect", "name", "Wes Tarn")
	elsewhere := b.add("look", "prospect", other.String(), "mode", "film")
	b.set(elsewhere, "prospect", id.String())
	b.alone()
	for _, unseen := range []entry.RecordID{later, elsewhere, other} {
		_, err := b.Retire(t.Context(), unseen.String(), drawn)
		refused(t, err, ErrInvalid)
	}
	b.set(look, "note", "late hands")
	retired, err := b.Retire(t.Context(), look.String(), drawn)
	require.NoError(t, err)
	require.Equal(t, merge.Disputed, retired.Record.Visibility)
	require.Equal(t, 1, retired.Unread.Total)
	reps, err := b.List(t.Context(), ListQuery{Kind: "rep"})
	require.NoError(t, err)
	retired, err = b.Retire(t.Context(), reps.Rows[0].ID.String(), drawn)
	require.NoError(t, err)
	require.Equal(t, merge.Hidden, retired.Record.Visibility)
}

// A text that is none, is cut off, is too long, belongs to another record or
// names what isn't held gets one error that says what to do, and stores nothing.
func TestRule12AReadingThatDoesNotHoldIsRefused(t *testing.T) {
	a, b, id, look := met(t)
	drawn := a.asOf(id.String())
	b.set(id, "school", "Salt Lick")
	ahead := b.asOf(id.String()) // of what isn't here yet
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	for name, c := range map[string]struct{ asOf, says string }{
		"none":               {"orrin", "pass it whole"},
		"empty":              {"AAAA", "pass it whole"},
		"cut off":            {drawn[:len(drawn)-4], "pass it whole"},
		"changed":            {drawn[:9] + strings.Map(func(r rune) rune { return r ^ 1 }, drawn[9:10]) + drawn[10:], "pass it whole"},
		"too long":           {strings.Repeat("A", maxReading+1), "more than the"},
		"of another record":  {a.asOf(look.String()), "another record"},
		"of a list":          {a.aside(0).AsOf, "another record"},
		"of what isn't here": {ahead, "doesn't hold"},
	} {
		_, err := a.Retire(t.Context(), id.String(), c.asOf)
		refused(t, err, ErrInvalid)
		require.ErrorContains(t, err, c.says, name)
		_, err = a.Get(t.Context(), id.String(), false, c.asOf)
		if name != "of another record" && name != "of a list" {
			require.ErrorIs(t, err, ErrInvalid, name)
		}
	}
	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
}

// Hundreds of records may have been joined into one.
func TestAReadingOfHundredsOfRecords(t *testing.T) {
	read := Reading{Records: slices.Repeat([]entry.RecordID{"a"}, 300)}
	again, err := ParseReading(read.String())
	require.NoError(t, err)
	require.Equal(t, read.Records, again.Records)
}

// Any bytes are read or refused, and what is read is written alike.
func FuzzReading(f *testing.F) {
	f.Add(Reading{}.String())
	f.Add(Reading{Records: []entry.RecordID{"a", "b"}, Read: entry.Retirement{Heads: []entry.ID{{Seq: 7}}, SetAside: []entry.ID{{Seq: 3}}}}.String())
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseReading(text)
		if err != nil {
			return
		}
		again, err := ParseReading(r.String())
		require.NoError(t, err)
		require.Equal(t, r.String(), again.String())
	})
}

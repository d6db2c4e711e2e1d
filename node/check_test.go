package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func byField(t *testing.T, l *laptop, write Write) map[string]Checked {
	t.Helper()
	checked, err := l.Check(t.Context(), write)
	require.NoError(t, err)
	found := map[string]Checked{}
	for _, c := range checked {
		found[c.Field] = c
	}
	return found
}

// All that is wrong is told at once, each at its field, and nothing is stored. An
// arm of 33 4/8 inches is written 334 (common practice, no source).
func TestCheckTellsWhatEachFieldWouldHold(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	before, err := a.Status(t.Context())
	require.NoError(t, err)

	got := byField(t, a, Write{Kind: "measurement", Sets: sets([]string{"prospect", "Orrin Vale", "what", "arm", "reading", "33 1/2 verified 2026-02-30"})})
	require.Equal(t, id, got["prospect"].Refers)
	require.Equal(t, "Orrin Vale", got["prospect"].Text)
	require.Equal(t, "arm", got["what"].Text)
	require.NotEmpty(t, got["reading"].Wrong)
	got = byField(t, a, Write{Kind: "measurement", Sets: sets([]string{"prospect", "Orrin Vale", "what", "arm", "reading", "33 1/2 verified 2026-02-28"})})
	require.Equal(t, Checked{Field: "reading", Text: "334, verified, 2026-02-28"}, got["reading"])
	got = byField(t, a, Write{Kind: "game", Sets: sets([]string{"date", "2026-13-01", "home", "Salt Lick", "week", "31"})})
	require.Contains(t, got["date"].Wrong, "YYYY-MM-DD")
	require.NotContains(t, got["date"].Wrong, "2026-13-01", "the field holds it already")
	require.Equal(t, "must be from 0 to 30", got["week"].Wrong)
	require.Equal(t, "a new game needs it", got["away"].Wrong)
	got = byField(t, a, Write{Record: id.String(), Sets: sets([]string{"position", "LT"})})
	require.Equal(t, "tackle", got["position"].Text)
	require.Len(t, got, 1, "a change needs no more than it changes")

	after, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Entries, after.Entries)
	require.Equal(t, before.StateHash, after.StateHash)
}

func TestCheckTellsWhoMayNotWrite(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	prospect := a.add("prospect", "name", "Orrin Vale")
	look := a.add("look", "prospect", prospect.String())
	agree(t, a, b)
	_, err := b.Check(t.Context(), Write{Kind: "factor", Sets: sets([]string{"name", "hand_use"})})
	refused(t, err, ErrRights)
	_, err = b.Check(t.Context(), Write{Record: look.String(), Sets: sets([]string{"mode", "film"})})
	refused(t, err, ErrRights)
	_, err = b.Check(t.Context(), Write{Record: prospect.String(), Sets: sets([]string{"jersey", "71"})})
	require.NoError(t, err)
}

// What is retired of a record's children is read only when it is asked for.
func TestGetReturnsWhatWasRetiredIfAsked(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	note := a.add("note", "prospect", id.String(), "text", "quiet feet")
	a.retire(note.String())
	for hidden, want := range map[bool]int{false: 0, true: 1} {
		d, err := a.Get(t.Context(), id.String(), hidden, "")
		require.NoError(t, err)
		require.Len(t, d.Related, want)
		l, err := a.List(t.Context(), ListQuery{Kind: "note", Search: "quiet", Hidden: hidden})
		require.NoError(t, err)
		require.Len(t, l.Rows, want, "and found by its words")
	}
}

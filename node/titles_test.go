package node

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

func (l *laptop) title(id entry.RecordID) string {
	l.t.Helper()
	d, err := l.Get(l.t.Context(), id.String(), false, "")
	require.NoError(l.t, err)
	return d.Record.Title
}

// Nobody knows a note by its id.
func TestANoteIsNamedByWhomItIsOnAndHowItBegins(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Orrin Vale")
	short := a.add("note", "prospect", who.String(), "text", "Late hands\n  against power.")
	require.Equal(t, "note on Orrin Vale: “Late hands against power.”", a.title(short))
	long := strings.Repeat("hands ", 40)
	require.Equal(t, "note on Orrin Vale: “"+long[:59]+"…”", a.title(a.add("note", "prospect", who.String(), "text", long)))
}

// A claim leads with its text, which may be as long as a page.
func TestALongClaimIsNamedByHowItBegins(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Orrin Vale")
	evaluation := a.add("evaluation", "prospect", who.String(), "overall", "6")
	long := strings.Repeat("hands ", 40)
	claim := a.add("claim", "evaluation", evaluation.String(), "kind", "concern", "text", long)
	require.Equal(t, long[:59]+"…, Orrin Vale, evaluated by Maren Ostrava", a.title(claim))
}

package node

import (
	"encoding/base32"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// An erasure has no command yet; its place in the format and its effect stand.
func TestWhatIsErasedStaysAwayAndIsNotImportedAgain(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	l, err := a.List(t.Context(), ListQuery{Search: "Orrin"})
	require.NoError(t, err)
	id := l.Rows[0].ID
	erasure := entry.Erasure{Records: []entry.RecordID{id}}
	require.NoError(t, a.step(Save{Drafts: []Draft{{Body: entry.Body{Kind: entry.KindErasure, Erasure: &erasure}}}}).Err)
	l, err = a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
	r := a.load("prospect", class)
	require.Len(t, r.Errors, 1)
	require.Equal(t, 2, r.Errors[0].Line)
	require.Zero(t, r.Added)
	_, err = a.Write(t.Context(), []Write{{Kind: "prospect", NewID: unique(id), Sets: sets([]string{"name", "Orrin Vale"})}})
	refused(t, err, ErrInvalid)
	faults, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
}

// unique is the part of an id that a writer may make up.
func unique(id entry.RecordID) string {
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString([]byte(id[len(id)-16:])))
}

package node

import (
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/merge"
)

// What a revoked laptop wrote before it heard of it comes over a third one that
// hadn't heard either. It counts nowhere until a director lets it (ledger rule 22:
// only raising replaces a cut), and what comes after that still doesn't.
func TestRule22ARaisedCutLetsCountWhatCameMeanwhile(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, c)
	b.alone()
	c.alone()
	_, err := a.Accept(t.Context(), "Tove Lund")
	refused(t, err, ErrInvalid)
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	a.alone()

	b.restart()
	c.restart()
	b.set(id, "school", "Salt Lick")
	connect(t, b, c)
	agree(t, b, c)
	b.alone()
	b.set(id, "hometown", "Low Ridge")
	a.restart()
	connect(t, a, c)
	agree(t, a, c)
	require.Empty(t, a.texts(id, "school"))
	aside, total, err := a.SetAside(t.Context(), 10)
	require.NoError(t, err)
	require.Equal(t, len(aside), total)
	require.Equal(t, merge.SetAside, aside[0].Status)
	require.Equal(t, "Orrin Vale", aside[0].Title)
	require.Equal(t, "Tove Lund's laptop", aside[0].DeviceName)
	require.Contains(t, aside[0].Reason, "when Maren Ostrava ended its standing")
	_, err = c.Accept(t.Context(), "Tove Lund")
	refused(t, err, ErrRights)

	_, err = a.Accept(t.Context(), "Tove Lund")
	require.NoError(t, err)
	agree(t, a, c)
	require.Equal(t, []string{"Salt Lick"}, a.texts(id, "school"))
	require.Equal(t, []string{"Salt Lick"}, c.texts(id, "school"))
	_, total, err = a.SetAside(t.Context(), 10)
	require.NoError(t, err)
	require.Zero(t, total)
	_, err = a.Accept(t.Context(), "Tove Lund")
	refused(t, err, ErrInvalid)
	roster, err := a.Roster(t.Context())
	require.NoError(t, err)
	for _, m := range roster {
		require.Equal(t, m.Author.Name == "Tove Lund", m.Revoked, m.Author.Name)
	}
}

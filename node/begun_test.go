package node

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// cutOff makes of a laptop's folders what a founding leaves that was cut off before
// its keys had their name: the entries are there, the keys are those from before.
func cutOff(t *testing.T, a *laptop, before []byte) Config {
	t.Helper()
	cfg := Config{Data: copied(t, a.cfg.Data), State: copied(t, a.cfg.State)}
	keys := filepath.Join(cfg.State, identityFile)
	require.NoError(t, os.Rename(keys, filepath.Join(cfg.State, ".new-1")))
	require.NoError(t, os.WriteFile(keys, before, 0o600))
	return cfg
}

func unfounded(t *testing.T) (*laptop, []byte) {
	t.Helper()
	a := newLaptop(t, "Maren Ostrava")
	a.alone()
	before, err := os.ReadFile(filepath.Join(a.cfg.State, identityFile))
	require.NoError(t, err)
	return a, before
}

// Whoever's founding was cut off founds again, or joins; nothing of it is left.
func TestAFoundingThatWasCutOffIsUndone(t *testing.T) {
	a, before := unfounded(t)
	_, staff, err := a.Found(t.Context(), "Harbor Point", "Maren Ostrava", "")
	require.NoError(t, err)
	cfg := cutOff(t, a, before)
	n, err := Open(t.Context(), cfg)
	require.NoError(t, err)
	require.Empty(t, n.store.Branches())
	_, again, err := n.Found(t.Context(), "Harbor Point", "Maren Ostrava", "")
	require.NoError(t, err)
	require.NotEqual(t, staff, again)
	require.NoError(t, n.Close())
	left, err := leftUnder(cfg.State, passingSecret)
	require.NoError(t, err)
	require.Empty(t, left)
	n, err = Open(t.Context(), cfg)
	require.NoError(t, err)
	require.Equal(t, again, n.store.Staff(), "it stays")
	require.NoError(t, n.Close())
}

// A ledger that may be in use is never taken for one that was only begun: one that
// holds anything else, and one whose keys were put back from before.
func TestOnlyABegunLedgerIsUndone(t *testing.T) {
	a, before := unfounded(t)
	_, staff, err := a.Found(t.Context(), "Harbor Point", "Maren Ostrava", "")
	require.NoError(t, err)
	backFromBefore := cutOff(t, a, before)
	require.NoError(t, os.Remove(filepath.Join(backFromBefore.State, ".new-1")))
	a.add("prospect", "name", "Orrin Vale")
	for _, cfg := range []Config{backFromBefore, cutOff(t, a, before)} {
		n, err := Open(t.Context(), cfg)
		require.NoError(t, err)
		require.Equal(t, staff, n.store.Staff())
		require.Len(t, n.store.Branches(), 2)
		require.NoError(t, n.Close())
	}
}

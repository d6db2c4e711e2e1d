package node

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A member whose database is gone shows no empty list, as if there had never been
// anything, and writes nothing. It joins again, and the others bring everything
// back, also what it wrote itself.
func TestALostDatabaseIsToldOfAndComesBack(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	b.stopNow()
	for _, beside := range []string{"", "-wal", "-shm"} {
		err := os.Remove(filepath.Join(b.cfg.Data, databaseFile+beside))
		require.True(t, err == nil || os.IsNotExist(err))
	}
	b.restart()
	_, err := b.List(t.Context(), ListQuery{})
	refused(t, err, ErrLost)
	_, err = b.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Wes Tarn"})}})
	refused(t, err, ErrLost)
	_, err = b.Verify(t.Context(), func(uint64, uint64) {})
	refused(t, err, ErrLost)
	_, _, err = b.Backup(t.Context(), filepath.Join(t.TempDir(), "copy"))
	refused(t, err, ErrLost)
	s, err := b.Status(t.Context())
	require.NoError(t, err)
	require.Contains(t, s.Trouble, "is empty")

	pair(t, a, b, "Tove Lund", false)
	connect(t, a, b)
	require.Equal(t, []string{"Orrin Vale"}, b.texts(id, "name"))
	require.Equal(t, "Tove Lund", b.field(id, "name").Values[0].Author.Name)
	b.set(id, "school", "Salt Lick")
	agree(t, a, b)
}

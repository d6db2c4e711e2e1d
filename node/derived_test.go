package node

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// turn changes a bit in the middle of every value that a statement's WHERE finds,
// while the node isn't there.
func (l *laptop) turn(table, column string) {
	l.t.Helper()
	l.stopNow()
	db, err := sql.Open("sqlite", filepath.Join(l.cfg.Data, databaseFile))
	require.NoError(l.t, err)
	defer db.Close()
	rows, err := db.Query(fmt.Sprintf("SELECT rowid, %s FROM %s WHERE length(%s) > 8", column, table, column))
	if table == "pack_part" { // which has no row numbers
		rows, err = db.Query("SELECT hex(part) || '.' || n, data FROM pack_part WHERE length(data) > 8")
	}
	require.NoError(l.t, err)
	turned := map[string][]byte{}
	for rows.Next() {
		var key string
		var data []byte
		require.NoError(l.t, rows.Scan(&key, &data))
		data[len(data)/2] ^= 1
		turned[key] = data
	}
	require.NoError(l.t, rows.Err())
	require.NotEmpty(l.t, turned)
	for key, data := range turned {
		where := "rowid = ?"
		if table == "pack_part" {
			where = "hex(part) || '.' || n = ?"
		}
		_, err := db.Exec(fmt.Sprintf("UPDATE %s SET %s = ? WHERE %s", table, column, where), data, key)
		require.NoError(l.t, err)
	}
	l.Node = open(l.t, l.cfg)
}

// What is worked out from the entries and kept is never shown with a bit turned:
// it is made anew when it is read, and verify says what was wrong and mends it.
func TestTurnedBitsInWhatIsWorkedOut(t *testing.T) {
	a := found(t)
	prospect := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	game := a.add("game", "date", "2026-10-03", "home", "Salt Lick", "away", "Low Ridge")
	a.add("look", "prospect", prospect.String(), "game", game.String(), "note", "Plays with his eyes up.")
	list := func() (lists [2]Listing) {
		for i, q := range []ListQuery{{}, {Kind: "look", Where: `note.contains("eyes")`}} {
			listing, err := a.List(t.Context(), q)
			require.NoError(t, err)
			lists[i] = listing
		}
		return lists
	}
	want := list()
	require.Len(t, want[0].Rows, 1)
	require.Len(t, want[1].Rows, 1)
	for what, place := range map[string][2]string{
		"a summary": {"summary", "data"}, "a pack": {"pack", "data"}, "a pack's part": {"pack_part", "data"},
	} {
		t.Run(what, func(t *testing.T) {
			a.turn(place[0], place[1])
			require.Equal(t, want, list(), "as it is read")
			a.turn(place[0], place[1])
			verified, err := a.Verify(t.Context(), func(uint64, uint64) {})
			require.NoError(t, err)
			require.Empty(t, verified.Faults)
			require.NotEmpty(t, verified.Mended)
			verified, err = a.Verify(t.Context(), func(uint64, uint64) {})
			require.NoError(t, err)
			require.Empty(t, verified, "mended")
			require.Equal(t, want, list())
		})
	}
	a.turn("record", "id") // which is found by it no more
	verified, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, verified.Faults)
	require.NotEmpty(t, verified.Mended)
	require.Equal(t, want, list())
}

package node

import (
	"compress/gzip"
	"database/sql"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/gofrs/flock"
	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

func (l *laptop) backup() string {
	l.t.Helper()
	path := filepath.Join(l.t.TempDir(), "backup.db")
	_, _, err := l.Backup(l.t.Context(), path)
	require.NoError(l.t, err)
	return path
}

// restore puts the backup in the place of what the laptop held.
func (l *laptop) restore(backup string) {
	l.t.Helper()
	l.stopNow()
	require.NoError(l.t, os.RemoveAll(l.cfg.Data))
	require.NoError(l.t, Restore(l.t.Context(), backup, l.cfg.Data, l.cfg.State))
	l.Node = open(l.t, l.cfg)
}

func (l *laptop) logs() map[entry.LogID]bool {
	logs := map[entry.LogID]bool{}
	for _, b := range l.store.Branches() {
		logs[b.Log] = true
	}
	return logs
}

// Last week's backup on a laptop that has written since: its own lost tail
// comes back from its peers, and it writes on in a new log.
func TestARestoredLaptopGetsItsOwnTailBack(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	early := b.add("prospect", "name", "Orrin Vale")
	backup := b.backup()
	late := b.add("prospect", "name", "Pim Rask")
	agree(t, a, b)
	logs := len(b.logs())
	b.restore(backup)
	after := b.add("prospect", "name", "Third One")
	connect(t, a, b)
	for _, l := range []*laptop{a, b} {
		for _, id := range []entry.RecordID{early, late, after} {
			require.NotEmpty(t, l.texts(id, "name"))
		}
		s, err := l.Status(t.Context())
		require.NoError(t, err)
		require.Empty(t, s.Forked)
	}
	require.Len(t, b.logs(), logs+1)
}

func TestACleanRestartGoesOnInTheSameLog(t *testing.T) {
	a := found(t)
	a.add("prospect", "name", "Orrin Vale")
	logs := len(a.logs())
	a.restart()
	a.add("prospect", "name", "Pim Rask")
	require.Len(t, a.logs(), logs)
	// A copy of the data folder from before is no proof that nothing happened.
	a.stopNow()
	require.NoError(t, os.Remove(filepath.Join(a.cfg.State, tokenFile)))
	a.restart()
	a.add("prospect", "name", "Third One")
	require.Len(t, a.logs(), logs+1)
}

// A backup holds no keys: elsewhere it is read at once, and written to after
// joining as a new laptop.
func TestABackupElsewhereIsReadAtOnceAndWrittenAfterJoining(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	backup := a.backup()
	other := newLaptop(t, "Tove Lund")
	other.restore(backup)
	require.Equal(t, []string{"Orrin Vale"}, other.texts(id, "name"))
	_, err := other.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Pim Rask"})}})
	refused(t, err, ErrNoKey)
	_, _, err = other.Found(t.Context(), "Another", "Other", "")
	refused(t, err, ErrHasStaff)
	pair(t, a, other, "Tove Lund", false)
	other.add("prospect", "name", "Pim Rask")
	connect(t, a, other)
}

func TestRestoreOverwritesNothing(t *testing.T) {
	a := found(t)
	backup := a.backup()
	refused(t, Restore(t.Context(), backup, a.cfg.Data, a.cfg.State), ErrExists)
	refused(t, Restore(t.Context(), filepath.Join(t.TempDir(), "none.db"), t.TempDir(), t.TempDir()), ErrNotFound)
	broken := filepath.Join(t.TempDir(), "broken.db")
	require.NoError(t, os.WriteFile(broken, []byte("this is no database"), 0o600))
	empty := t.TempDir()
	refused(t, Restore(t.Context(), broken, empty, t.TempDir()), ErrInvalid)
	left, err := os.ReadDir(empty)
	require.NoError(t, err)
	require.Empty(t, left)
	_, _, err = a.Backup(t.Context(), backup)
	refused(t, err, ErrExists)
}

// Where another plumbline is about to begin a ledger, or restores one, nothing is laid
// down over it, and nothing is left behind.
func TestRestoreTakesTheFoldersLock(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	backup := a.backup()
	data, state := t.TempDir(), t.TempDir()
	other := flock.New(filepath.Join(data, lockFile))
	got, err := other.TryLock()
	require.NoError(t, err)
	require.True(t, got)
	refused(t, Restore(t.Context(), backup, data, state), ErrInUse)
	left, err := os.ReadDir(data)
	require.NoError(t, err)
	require.Len(t, left, 1, "the lock")
	require.NoError(t, other.Unlock())
	require.NoError(t, Restore(t.Context(), backup, data, state))
	n, err := Open(t.Context(), Config{Data: data, State: state})
	require.NoError(t, err)
	defer n.Close()
	d, err := n.Get(t.Context(), id.String(), false, "")
	require.NoError(t, err)
	require.Equal(t, "Orrin Vale", d.Record.Title)
}

// A cloned disk: two laptops continue one log. Both branches are kept and
// applied, and the director is told.
func TestAClonedLaptopLosesNothing(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	b.stopNow()
	clone := &laptop{t: t, name: b.name, cfg: b.cfg}
	clone.cfg.Data, clone.cfg.State = copied(t, b.cfg.Data), copied(t, b.cfg.State)
	asAnImage(t, clone.cfg)
	clone.Node = open(t, clone.cfg)
	t.Cleanup(func() { clone.stopNow() })
	first := clone.add("prospect", "name", "From the clone")
	clone.stopNow()
	b.restart()
	second := b.add("prospect", "name", "From the first")
	connect(t, a, b)
	b.stopNow()
	clone.restart()
	connect(t, a, clone)
	require.Equal(t, []string{"From the clone"}, a.texts(first, "name"))
	require.Equal(t, []string{"From the first"}, a.texts(second, "name"))
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Len(t, s.Forked, 1)
	require.Equal(t, []string{"From the first"}, clone.texts(second, "name"))
	require.Len(t, s.Clones, 1)
	require.Equal(t, "Tove Lund", s.Clones[0].Author.Name)
	require.Equal(t, []uint64{1, 1}, s.Clones[0].Entries, "each copy has written one")
	require.False(t, s.Clones[0].Own)
	s, err = clone.Status(t.Context())
	require.NoError(t, err)
	require.True(t, s.Clones[0].Own)
	require.NoError(t, a.Acknowledge(t.Context()))
	a.restart()
	s, err = a.Status(t.Context())
	require.NoError(t, err)
	require.Empty(t, s.Clones, "told once")
	require.Len(t, s.Forked, 1)
}

// asAnImage makes a copy look like a disk that was copied as a whole, where files
// keep their numbers and times.
func asAnImage(t *testing.T, cfg Config) {
	t.Helper()
	path := filepath.Join(cfg.State, tokenFile)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	var half outsideHalf
	require.NoError(t, json.Unmarshal(data, &half))
	half.Database, err = footprint(filepath.Join(cfg.Data, databaseFile))
	require.NoError(t, err)
	data, err = json.Marshal(half)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, data, 0o600))
}

// Both folders are put back from an older copy, so that the two halves of the
// token fit: nothing is lost, no log forks, nobody has to do anything, and the
// person is told once what came back and from whom.
func TestRule2AnOlderCopyOfBothFoldersForksNothing(t *testing.T) {
	for name, back := range map[string]func(t *testing.T, from, to string){
		"in place of the folders": func(t *testing.T, from, to string) {
			require.NoError(t, os.RemoveAll(to))
			require.NoError(t, os.CopyFS(to, os.DirFS(from)))
		},
		"over the files": func(t *testing.T, from, to string) {
			files, err := os.ReadDir(from)
			require.NoError(t, err)
			for _, f := range files {
				data, err := os.ReadFile(filepath.Join(from, f.Name()))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(filepath.Join(to, f.Name()), data, 0o600))
			}
		},
	} {
		a := found(t)
		b := join(t, a, "Tove Lund", false)
		connect(t, a, b)
		early := b.add("prospect", "name", "Orrin Vale")
		agree(t, a, b)
		b.stopNow()
		data, state := copied(t, b.cfg.Data), copied(t, b.cfg.State)
		b.restart()
		late, later := b.add("prospect", "name", "Pim Rask"), b.add("prospect", "name", "Lem Dorn")
		connect(t, a, b)
		logs := len(b.logs())
		b.stopNow()
		back(t, data, b.cfg.Data)
		back(t, state, b.cfg.State)
		b.restart()
		after := b.add("prospect", "name", "Third One")
		connect(t, a, b)
		for _, l := range []*laptop{a, b} {
			for _, id := range []entry.RecordID{early, late, later, after} {
				require.NotEmpty(t, l.texts(id, "name"), name)
			}
			s, err := l.Status(t.Context())
			require.NoError(t, err)
			require.Empty(t, s.Forked, name)
		}
		require.Len(t, b.logs(), logs+1, name)
		told := func() []ReturnedEntries {
			s, err := b.Status(t.Context())
			require.NoError(t, err)
			return s.Returned
		}
		eventually(t, "what came back is told", func() bool { return len(told()) == 1 && told()[0].Entries == 2 })
		require.Equal(t, "maren's laptop", told()[0].DeviceName)
		b.restart()
		require.Len(t, told(), 1, "until the person has read it")
		require.NoError(t, b.Acknowledge(t.Context()))
		require.Empty(t, told())
		b.restart()
		require.Empty(t, told())
		s, err := a.Status(t.Context())
		require.NoError(t, err)
		require.Empty(t, s.Returned)
	}
}

func copied(t *testing.T, folder string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(to, os.DirFS(folder)))
	return to
}

func TestVerifyFindsNothingWrong(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	faults, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
}

// earlierBackups were made by programs that ended with that many steps of tables, of
// the same 23 invented entries, each under a key and with random ids of its own. They
// are named by what status said of the ledger then.
var earlierBackups = map[string]string{
	"step-2": "1cc1eb98baa0253e28c58f16f88be6ba1407e1f2debcc1d566b5776d0ad65b74",
	"step-3": "d59ae697c1ee873ea48512e4aa79074d223fa19d6fe90c8def74539640502c29",
	"step-6": "cb916c71d60bdb733e006b69236118870442260d465b670155cef0828c41abe3",
}

// earlierBackup lays one of them into a folder.
func earlierBackup(t *testing.T, name string) string {
	t.Helper()
	packed, err := os.Open(filepath.Join("testdata", "backups", name+".gz"))
	require.NoError(t, err)
	defer packed.Close()
	from, err := gzip.NewReader(packed)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), name)
	to, err := os.Create(path)
	require.NoError(t, err)
	_, err = io.Copy(to, from)
	require.NoError(t, err)
	require.NoError(t, to.Close())
	return path
}

// What an earlier program backed up is restored with today's tables, the same ledger
// to the last entry, and nothing of it looks damaged.
func TestABackupOfAnEarlierProgramIsRestored(t *testing.T) {
	for name, hash := range earlierBackups {
		backup := earlierBackup(t, name)
		before, err := os.ReadFile(backup)
		require.NoError(t, err)
		a := newLaptop(t, "Mara Quill")
		a.restore(backup)
		s, err := a.Status(t.Context())
		require.NoError(t, err)
		require.Equal(t, hash, s.StateHash.String(), name)
		require.EqualValues(t, 23, s.Entries, name)
		verified, err := a.Verify(t.Context(), func(uint64, uint64) {})
		require.NoError(t, err)
		require.Empty(t, verified, name)
		listing, err := a.List(t.Context(), ListQuery{Where: "reps == 4 && grades.hand_use == 5.0"})
		require.NoError(t, err)
		require.Len(t, listing.Rows, 1, name)
		require.Equal(t, "Orrin Vale", listing.Rows[0].Title)
		found, err := a.List(t.Context(), ListQuery{Kind: "note", Search: "snap count"})
		require.NoError(t, err)
		require.Len(t, found.Rows, 1, name)
		after, err := os.ReadFile(backup)
		require.NoError(t, err)
		require.Equal(t, before, after, "the backup is as it was")
		files, err := os.ReadDir(filepath.Dir(backup))
		require.NoError(t, err)
		require.Len(t, files, 1, "nothing lies beside it")
	}
}

// What a laptop wrote last stands in the log beside its database until it is closed.
// Whoever restores both after a crash has everything.
func TestADatabaseIsRestoredWithTheLogBesideIt(t *testing.T) {
	a := found(t)
	a.add("prospect", "name", "Orrin Vale")
	a.restart()
	late := a.add("prospect", "name", "Pim Rask")
	crashed := copied(t, a.cfg.Data)
	without := copied(t, crashed)
	require.NoError(t, os.Remove(filepath.Join(without, databaseFile+"-wal")))
	other, third := newLaptop(t, "Mara Quill"), newLaptop(t, "Mara Quill")
	other.restore(filepath.Join(crashed, databaseFile))
	third.restore(filepath.Join(without, databaseFile))
	require.Equal(t, []string{"Pim Rask"}, other.texts(late, "name"))
	_, err := third.Get(t.Context(), late.String(), false, "")
	refused(t, err, ErrNotFound)
}

// Where every entry holds, a backup is as good as whole: what is worked out from them
// is made anew.
func TestABackupWithoutWhatIsWorkedOutIsRestored(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	backup := a.backup()
	change := func(what string) {
		db, err := sql.Open("sqlite", backup)
		require.NoError(t, err)
		defer db.Close()
		done, err := db.Exec(what)
		require.NoError(t, err)
		changed, err := done.RowsAffected()
		require.NoError(t, err)
		require.NotZero(t, changed)
	}
	change("UPDATE record SET conflicts = conflicts + 1")
	b := newLaptop(t, "Tove Lund")
	b.restore(backup)
	require.Equal(t, []string{"Orrin Vale"}, b.texts(id, "name"))
	verified, err := b.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, verified)
	change("UPDATE entry SET body = body || x'00'")
	c := newLaptop(t, "Tove Lund")
	c.stopNow()
	require.NoError(t, os.RemoveAll(c.cfg.Data))
	refused(t, Restore(t.Context(), backup, c.cfg.Data, c.cfg.State), ErrInvalid)
	require.NoDirExists(t, c.cfg.Data)
}

// What holds no ledger is refused, whatever tables it has, and leaves nothing.
func TestWhatHoldsNoLedgerIsNotRestored(t *testing.T) {
	unfounded := newLaptop(t, "Mara Quill")
	unfounded.stopNow()
	for name, content := range map[string]string{"nothing": "", "a byte": "x", "words": "this is no database"} {
		path := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		require.ErrorContains(t, noLedger(t, path), "is no backup")
	}
	noLedger(t, filepath.Join(unfounded.cfg.Data, databaseFile))
	noLedger(t, t.TempDir())
}

func noLedger(t *testing.T, path string) error {
	t.Helper()
	data, state := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "state")
	err := Restore(t.Context(), path, data, state)
	refused(t, err, ErrInvalid)
	require.Contains(t, err.Error(), path)
	require.NoDirExists(t, data)
	require.NoDirExists(t, state)
	return err
}

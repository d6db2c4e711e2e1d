package node

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// wroteAlone is a laptop whose person founded a staff of one.
func wroteAlone(t testing.TB, name string) *laptop {
	t.Helper()
	l := newLaptop(t, name)
	l.takesAlong = true
	_, _, err := l.Found(t.Context(), "On my own", name, "the old one")
	require.NoError(t, err)
	return l
}

// moved is closed by now, and whoever runs the node opens it again.
func (l *laptop) reopen() {
	l.t.Helper()
	<-l.Moved()
	l.restart()
}

func (l *laptop) importList(table string) ImportReport {
	l.t.Helper()
	report, err := l.Import(l.t.Context(), ImportRequest{Kind: "prospect", Source: "North list", Data: []byte(table)})
	require.NoError(l.t, err)
	require.Empty(l.t, report.Errors)
	return report
}

const northList = "name,position,school,class_year\nOrrin Vale,tackle,Salt Lick,2027\nWes Tarn,guard,Stone Ferry,2027\n"

func TestRule33WhatWasWrittenAloneGoesAlong(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	vale := b.only("Orrin Vale")
	b.set(vale, "school", "Low Ridge") // the list was wrong
	game := b.add("game", "date", "2026-10-03", "home", "Salt Lick", "away", "Stone Ferry")
	look := b.add("look", "prospect", vale.String(), "game", game.String(), "mode", "film")
	rep := b.add("rep", "look", look.String(), "number", "1", "result", "won")
	eval := b.add("evaluation", "prospect", vale.String(), "overall", "6", "grades.hand_use", "7", "summary", "Patient.")
	claim := b.add("claim", "evaluation", eval.String(), "kind", "strength", "text", "Quiet feet.", "reps", rep.String())
	gone := b.add("prospect", "name", "Entered By Mistake")
	b.retire(gone.String())
	b.add("factor", "name", "hand_use")
	written := b.field(eval, "overall").Values[0].Written
	before := b.everything()

	told, err := b.Alone(t.Context())
	require.NoError(t, err)
	require.Equal(t, "On my own", told.Staff)
	require.Contains(t, told.Taken, Amount{Kind: "prospect", Records: 3, Retired: 1})
	require.Equal(t, []Amount{{Kind: "factor", Records: 1}}, told.Left)
	require.Equal(t, filepath.Join(b.cfg.Data, "alone"), told.Kept)
	alone := b.store.StateHash()

	pair(t, a, b, "Tove Lund", false)
	b.reopen()
	require.Equal(t, before.without("factor"), b.everything(), "what is taken along shows as it did")
	require.Equal(t, written, b.field(eval, "overall").Values[0].Written, "and is as old as it was")
	status, err := b.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Harbor Point", status.StaffName)
	require.Equal(t, entry.RoleScout, status.Role)
	require.Equal(t, told.Taken, status.Alone.Taken)
	require.Equal(t, told.Left, status.Alone.Left)
	require.Equal(t, told.Kept, status.Alone.Kept)

	connect(t, a, b)
	require.Equal(t, b.everything(), a.everything(), "and reaches the others")
	require.Equal(t, "Tove Lund", a.field(claim, "text").Values[0].Author.Name)
	require.Equal(t, []string{rep.String()}, a.texts(claim, "reps"))

	again := b.importList(northList)
	require.Equal(t, 2, again.Unchanged, "a list that is read again is found, and what was corrected stays so")

	kept, err := storage.Open(t.Context(), filepath.Join(told.Kept, databaseFile), storage.Options{ReadOnly: true, Projector: projector{}})
	require.NoError(t, err)
	defer kept.Close()
	require.Equal(t, alone, kept.StateHash(), "the ledger from before is kept")
}

// only finds the one prospect of a name.
func (l *laptop) only(name string) entry.RecordID {
	l.t.Helper()
	d, err := l.Get(l.t.Context(), name, false, "")
	require.NoError(l.t, err)
	return d.Record.ID
}

// shows is what a record shows: its live values with list and day, which of them
// first, and whether it is seen at all.
type shows map[string][]string

// everything is what all records show but those that say who the people are.
func (l *laptop) everything() shows {
	l.t.Helper()
	return everythingOf(l.t, l.store)
}

func everythingOf(t testing.TB, store *storage.Store) shows {
	all := shows{}
	for row, err := range store.Records(context.Background(), storage.Query{Hidden: true}) {
		require.NoError(t, err)
		if slices.Contains(ofItsStaff, row.ID.Kind()) {
			continue
		}
		lines := []string{map[merge.Visibility]string{merge.Visible: "visible", merge.Hidden: "hidden", merge.Disputed: "disputed"}[row.Info.Visibility],
			"speaks: " + store.Groups().Leader(row.ID).String()}
		for _, reg := range row.Registers {
			for _, v := range reg.Live {
				data, err := json.Marshal([]any{reg.Register, v.Op, v.Data, v.Source, v.Wall})
				require.NoError(t, err)
				lines = append(lines, string(data))
			}
		}
		all[kindName(row.ID)+" "+row.ID.String()] = lines
	}
	return all
}

func (s shows) without(kinds ...string) shows {
	left := shows{}
	for name, lines := range s {
		if !slices.Contains(kinds, strings.Fields(name)[0]) {
			left[name] = lines
		}
	}
	return left
}

// Who is let in as a director takes along what a director writes.
func TestRule33ADirectorsRecordsGoWithADirector(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	vale := b.add("prospect", "name", "Orrin Vale")
	b.add("factor", "name", "hand_use", "anchors.5", "Late, but they land.")
	b.add("flag", "prospect", vale.String(), "about", "medical")
	before := b.everything()
	pair(t, a, b, "Tove Lund", true)
	b.reopen()
	require.Equal(t, before, b.everything())
	connect(t, a, b)
	require.Equal(t, before, a.everything())
}

// Somebody of the staff already has another person id: what is theirs goes along
// under that one, and what refers to it follows.
func TestRule33SomebodyWhoIsKnownThereIsThatPerson(t *testing.T) {
	a := found(t)
	first := join(t, a, "Tove Lund", false)
	own, err := first.Status(t.Context())
	require.NoError(t, err)
	b := wroteAlone(t, "Tove Lund")
	vale := b.add("prospect", "name", "Orrin Vale")
	look := b.add("look", "prospect", vale.String(), "mode", "film")
	rep := b.add("rep", "look", look.String(), "number", "1")
	eval := b.add("evaluation", "prospect", vale.String(), "overall", "6")
	claim := b.add("claim", "evaluation", eval.String(), "text", "Quiet feet.", "reps", rep.String())
	person := look.Person()
	pair(t, a, b, "Tove Lund", false)
	b.reopen()
	connect(t, a, b)
	there := func(id entry.RecordID) entry.RecordID {
		return entry.NewRecordID(entry.Owned, id.Kind(), own.Author.Person, [16]byte([]byte(id[len(id)-16:])))
	}
	require.NotEqual(t, person, own.Author.Person)
	require.Contains(t, a.holds(there(rep), "look"), string(there(look)))
	require.Contains(t, a.holds(there(claim), "reps"), string(there(rep)))
	require.Contains(t, a.holds(there(claim), "evaluation"), string(there(eval)))
	require.Contains(t, a.holds(there(look), "prospect"), string(vale))
	require.Equal(t, "Tove Lund", a.field(there(eval), "overall").Values[0].Author.Name)
}

// holds is the one live value of a field, as it is stored.
func (l *laptop) holds(id entry.RecordID, field string) string {
	l.t.Helper()
	row, err := l.store.Record(l.t.Context(), id)
	require.NoError(l.t, err)
	live := row.Find(record.Must(id.Kind(), field).Address()).Live
	require.Len(l.t, live, 1)
	return string(live[0].Data)
}

// Whose laptop is gone and who kept a backup of what they wrote alone takes that
// along: nobody of that staff is left who could invite.
func TestRule33ARestoredBackupGoesAlongToo(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	before := b.everything()
	file := filepath.Join(t.TempDir(), "copy.db")
	_, _, err := b.Backup(t.Context(), file)
	require.NoError(t, err)
	b.stopNow()

	c := newLaptop(t, "Tove Lund")
	c.takesAlong = true
	c.stopNow()
	require.NoError(t, Restore(t.Context(), file, c.cfg.Data, c.cfg.State))
	c.restart()
	pair(t, a, c, "Tove Lund", false)
	c.reopen()
	require.Equal(t, before, c.everything())
	connect(t, a, c)
	require.Equal(t, before, a.everything())
}

func TestRule33WhereOthersHaveAPartNothingIsTakenAlong(t *testing.T) {
	b := wroteAlone(t, "Tove Lund")
	join(t, b, "Ilse Brandt", false)
	b.add("prospect", "name", "Orrin Vale")
	before := b.everything()
	_, err := b.Alone(t.Context())
	refused(t, err, ErrHasStaff)
	require.ErrorContains(t, err, "2 laptops")
	err = b.Join(t.Context(), JoinRequest{Address: "127.0.0.1:1", Word: "word", TakeAlong: true}, func(PairingStep) error { return nil })
	refused(t, err, ErrHasStaff)
	require.ErrorContains(t, err, "2 laptops")
	require.Equal(t, before, b.everything())
	b.set(b.only("Orrin Vale"), "school", "Salt Lick")
}

// Nobody's records go along unasked.
func TestRule33WhoWroteAloneIsAsked(t *testing.T) {
	b := wroteAlone(t, "Tove Lund")
	err := b.Join(t.Context(), JoinRequest{Address: "127.0.0.1:1", Word: "word"}, func(PairingStep) error { return nil })
	refused(t, err, ErrHasStaff)
	require.ErrorContains(t, err, "taken along")
}

// welcomeTo grants a laptop as if both codes had been typed.
func welcomeTo(t testing.TB, director, newcomer *laptop, name string, role entry.Role) welcome {
	t.Helper()
	own, err := director.director()
	require.NoError(t, err)
	person, err := newcomer.writtenBy()
	require.NoError(t, err)
	cert, err := director.admitNewcomer(context.Background(), own, name, "", role, newcomer.public(), person)
	require.NoError(t, err)
	data, err := director.Node.welcome(context.Background(), cert)
	require.NoError(t, err)
	var w welcome
	require.NoError(t, json.Unmarshal(data, &w))
	return w
}

func moveInto(t testing.TB, director, newcomer *laptop, w welcome) PairingStep {
	t.Helper()
	done, err := newcomer.enter(context.Background(), director.id().Root, w, joining{takeAlong: true})
	require.NoError(t, err)
	return done
}

// cutOff opens a copy of both folders as they lie there now: what a machine finds
// whose process was killed.
func (l *laptop) cutOff() *laptop {
	l.t.Helper()
	other := &laptop{t: l.t, name: l.name, cfg: l.cfg}
	other.cfg.Data, other.cfg.State, other.cfg.Links = filepath.Join(l.t.TempDir(), "data"), filepath.Join(l.t.TempDir(), "state"), nil
	require.NoError(l.t, os.CopyFS(other.cfg.Data, os.DirFS(l.cfg.Data)))
	require.NoError(l.t, os.CopyFS(other.cfg.State, os.DirFS(l.cfg.State)))
	l.t.Cleanup(other.stopNow)
	return other
}

// Killed before the keys' file is replaced, nothing has happened; after it, the
// next start ends what is left to do, wherever that was cut off.
func TestRule33CutOffAnywhereNothingIsLost(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	before := b.everything()
	w := welcomeTo(t, a, b, "Tove Lund", entry.RoleScout)
	staff := a.store.Staff()

	// Everything is staged, and the keys are still those of the old ledger.
	keys, err := os.ReadFile(filepath.Join(b.cfg.State, identityFile))
	require.NoError(t, err)
	moveInto(t, a, b, w)
	undecided := b.cutOff()
	require.NoError(t, os.WriteFile(filepath.Join(undecided.cfg.State, identityFile), keys, 0o600))
	undecided.Node = open(t, undecided.cfg)
	require.Equal(t, before, undecided.everything())
	undecided.set(undecided.only("Orrin Vale"), "jersey", "71")
	left, err := filepath.Glob(filepath.Join(undecided.cfg.Data, ".*"))
	require.NoError(t, err)
	require.Empty(t, left)
	require.NoDirExists(t, filepath.Join(undecided.cfg.Data, "alone"))

	folder := func(l *laptop) string { return moveFolder(l.cfg.Data, staff, entry.DeviceOf(b.public())) }
	for name, cut := range map[string]func(*laptop){
		"nothing is renamed yet": func(*laptop) {},
		"a folder is made for the old ledger": func(l *laptop) {
			require.NoError(t, os.Mkdir(filepath.Join(l.cfg.Data, "alone"), 0o700))
		},
		"the old ledger is kept": func(l *laptop) {
			require.NoError(t, keepWhole(l.cfg.Data, filepath.Join(folder(l), keptFile)))
		},
		"the new one has its place": func(l *laptop) { require.NoError(t, takePlace(l.cfg.Data, folder(l))) },
	} {
		t.Run(name, func(t *testing.T) {
			c := b.cutOff()
			cut(c)
			for range 2 { // the second start finds nothing left to do
				c.restart()
				require.Equal(t, before, c.everything())
				require.Equal(t, staff, c.store.Staff())
				c.stopNow()
			}
			require.NoDirExists(t, folder(c))
			kept, err := storage.Open(t.Context(), filepath.Join(c.cfg.Data, "alone", databaseFile), storage.Options{ReadOnly: true})
			require.NoError(t, err)
			defer kept.Close()
			require.Equal(t, before, everythingOf(t, kept))
			require.NoDirExists(t, filepath.Join(c.cfg.Data, "alone-2"))
		})
	}
}

// What an erasure keeps out of sight stays so, though the erasure itself doesn't go
// along: a value that an erased one had replaced, a person's or a list's, alone in its
// record or not, with something written over the erased one or nothing.
func TestRule19NothingOlderComesBackByJoining(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	vale, tarn := b.only("Orrin Vale"), b.only("Wes Tarn")
	bare := b.add("prospect", "name", "Lem Dorn")
	whole := b.add("prospect", "name", "Ned Arrow")
	var erasure entry.Erasure
	erase := func(id entry.RecordID, field string) {
		reg := record.Must(record.Prospect, field).Address()
		row, err := b.store.Record(t.Context(), id)
		require.NoError(t, err)
		live := row.Find(reg).Live
		require.Len(t, live, 1)
		e, held, err := b.store.Entry(t.Context(), live[0].ID)
		require.NoError(t, err)
		require.True(t, held)
		require.Len(t, e.Body.Changes, 1)
		erasure.Entries = append(erasure.Entries, entry.ErasedEntry{
			ID: e.ID, Record: id, Edges: []entry.Edge{{Register: reg, Replaces: e.Body.Changes[0].Replaces}},
		})
	}
	b.set(bare, "name", "Lem Dorne")
	erase(bare, "name")
	b.set(vale, "school", "Low Ridge")
	erase(vale, "school")
	b.set(tarn, "school", "Low Ridge")
	b.set(tarn, "school", "High Ridge")
	erase(tarn, "school")
	b.set(tarn, "school", "Iron Bluff") // over what is to be erased
	erasure.Records = append(erasure.Records, whole)
	require.NoError(t, b.step(Save{Drafts: []Draft{{Body: entry.Body{Kind: entry.KindErasure, Erasure: &erasure}}}}).Err)
	before := b.everything()
	require.NotContains(t, before, "prospect "+bare.String())
	require.Empty(t, b.texts(vale, "school"))
	require.Equal(t, []string{"Iron Bluff"}, b.texts(tarn, "school"))

	moveInto(t, a, b, welcomeTo(t, a, b, "Tove Lund", entry.RoleScout))
	b.restart()
	require.Equal(t, before, b.everything())
	faults, err := b.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
}

// A restored copy has keys of no staff. Killed before they are replaced, it leaves
// nothing behind either, and can join anew, this staff or another.
func TestRule33ARestoredCopyThatWasCutOffLeavesNothingBehind(t *testing.T) {
	a, other := found(t), found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	before := b.everything()
	c := newLaptop(t, "Tove Lund")
	c.takesAlong = true
	c.restore(b.backup())
	keys, err := os.ReadFile(filepath.Join(c.cfg.State, identityFile))
	require.NoError(t, err)
	moveInto(t, a, c, welcomeTo(t, a, c, "Tove Lund", entry.RoleScout))
	undecided := c.cutOff()
	undecided.takesAlong = true
	require.NoError(t, os.WriteFile(filepath.Join(undecided.cfg.State, identityFile), keys, 0o600))
	undecided.restart()
	require.Equal(t, before, undecided.everything())
	left, err := filepath.Glob(filepath.Join(undecided.cfg.Data, ".*"))
	require.NoError(t, err)
	require.Empty(t, left)
	pair(t, other, undecided, "Tove Lund", false)
	undecided.reopen()
	require.Equal(t, before, undecided.everything())
}

// Whoever opens the folder with other keys than the one that moved ends nothing and
// removes nothing: what was taken along may have no other copy.
func TestRule33OtherKeysLeaveAMoveAlone(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	b.importList(northList)
	before := b.everything()
	moveInto(t, a, b, welcomeTo(t, a, b, "Tove Lund", entry.RoleScout))
	c := b.cutOff()
	other := found(t)
	other.stopNow()
	for _, state := range []string{other.cfg.State, t.TempDir()} {
		wrong := c.cfg
		wrong.State = state
		if n, err := Open(t.Context(), wrong); err == nil {
			require.NoError(t, n.Close())
		}
	}
	c.restart()
	require.Equal(t, a.store.Staff(), c.store.Staff())
	require.Equal(t, before, c.everything())
	left, err := filepath.Glob(filepath.Join(c.cfg.Data, ".*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

// From the moment at which the records are taken along nothing is saved where it
// would stay behind.
func TestRule33NothingIsSavedIntoTheLedgerThatIsLeft(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	moveInto(t, a, b, welcomeTo(t, a, b, "Tove Lund", entry.RoleScout))
	_, err := b.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Too late"})}})
	refused(t, err, ErrInUse)
	err = b.Join(t.Context(), JoinRequest{Address: "127.0.0.1:1", Word: "word", TakeAlong: true}, func(PairingStep) error { return nil })
	refused(t, err, ErrInUse)
	b.restart()
	b.add("prospect", "name", "In time")
}

// A joining that fails leaves the ledger as it was, and lets it be written to.
func TestRule33AMoveThatFailsChangesNothing(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	vale := b.add("prospect", "name", "Orrin Vale")
	w := welcomeTo(t, a, b, "Tove Lund", entry.RoleScout)
	w.Control = introduction(entry.Run{}) // which admits nobody
	_, err := b.enter(t.Context(), a.id().Root, w, joining{takeAlong: true})
	require.Error(t, err)
	b.set(vale, "school", "Salt Lick")
	left, err := filepath.Glob(filepath.Join(b.cfg.Data, ".*"))
	require.NoError(t, err)
	require.Empty(t, left)
	b.restart()
	require.Equal(t, []string{"Salt Lick"}, b.texts(vale, "school"))
}

// The old staff's root and link keys stay out of the new keys' file; the id key
// stays, for lists that are read again.
func TestRule33SecretsOfTheOldLedgerStayBehind(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	old := *b.id()
	moveInto(t, a, b, welcomeTo(t, a, b, "Tove Lund", entry.RoleScout))
	b.restart()
	require.Equal(t, a.id().Root, b.id().Root)
	require.Equal(t, a.id().LinkKeys, b.id().LinkKeys)
	require.Equal(t, a.id().IDKey, b.id().IDKey)
	require.Equal(t, old.IDKey, b.id().FormerIDKey)
	require.Equal(t, old.Device, b.id().Device, "the laptop is the same")
}

// A laptop that was revoked and is let in again still finds what its own lists made
// before it joined, and enters none of it twice.
func TestRule33TheOldIDKeyOutlivesARevocation(t *testing.T) {
	a := found(t)
	b := wroteAlone(t, "Tove Lund")
	games := ImportRequest{Kind: "game", Data: []byte("date,home,away\n2026-09-05,Salt Lick,Tin Valley\n")} // invented
	_, err := b.Import(t.Context(), games)
	require.NoError(t, err)
	moveInto(t, a, b, welcomeTo(t, a, b, "Tove Lund", entry.RoleScout))
	b.restart()
	connect(t, a, b)
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Eventually(t, func() bool { _, _, err := b.standing(); return err != nil }, 20*time.Second, 5*time.Millisecond)
	b.takesAlong = false
	pair(t, a, b, "Tove Lund", false)
	r, err := b.Import(t.Context(), games)
	require.NoError(t, err)
	require.Equal(t, [2]int{0, 1}, [2]int{r.Added, r.Unchanged})
}

// A history that somebody wrote alone, at random: new records, edits, lists that
// are read again, retirements, answers to them, records that are one, crashes.
type soloist struct {
	*laptop
	t       *rapid.T
	records []entry.RecordID
	read    map[entry.RecordID]string
}

func (s *soloist) pick() (entry.RecordID, bool) {
	if len(s.records) == 0 {
		return "", false
	}
	return s.records[rapid.IntRange(0, len(s.records)-1).Draw(s.t, "record")], true
}

var soloSteps = map[string]func(*soloist){
	"add": func(s *soloist) {
		s.records = append(s.records, s.add("prospect", "name", rapid.SampledFrom([]string{"Orrin Vale", "Wes Tarn", "Lem Dorn"}).Draw(s.t, "name"), "note", "Seen once."))
	},
	"look": func(s *soloist) {
		if id, ok := s.pick(); ok && kindName(id) == "prospect" {
			s.records = append(s.records, s.add("look", "prospect", id.String(), "mode", "film", "note", "First half."))
		}
	},
	"set": func(s *soloist) {
		if id, ok := s.pick(); ok {
			text := rapid.SampledFrom([]string{"Seen once.", "Seen twice.", "Wants a look."}).Draw(s.t, "note")
			s.write(id, Set{Field: "note", Text: text, Seen: s.shown(id, "note")})
		}
	},
	"clear": func(s *soloist) {
		if id, ok := s.pick(); ok {
			s.write(id, Set{Field: "note", Clear: true, Seen: s.shown(id, "note")})
		}
	},
	"beside": func(s *soloist) { // as an older program or a list of another name may have
		if id, ok := s.pick(); ok {
			note := rapid.SampledFrom([]string{"A", "B"}).Draw(s.t, "beside")
			d, err := typed(id.Kind(), id, map[string]string{"note": note})
			require.NoError(s.t, err)
			d.Body.Source = rapid.SampledFrom([]string{"", "South list", editedIn + "South list"}).Draw(s.t, "source")
			require.NoError(s.t, s.save(d))
		}
	},
	"list": func(s *soloist) {
		s.importList(listOf(rapid.SampledFrom(schools).Draw(s.t, "school")))
		if id := s.only("Ned Arrow"); !slices.Contains(s.records, id) {
			s.records = append(s.records, id)
		}
	},
	"read": func(s *soloist) { // and leave the page open
		if id, ok := s.pick(); ok {
			s.read[id] = s.asOf(id.String())
		}
	},
	"retire": func(s *soloist) {
		if id, ok := s.pick(); ok {
			_, err := s.Retire(context.Background(), id.String(), cmp.Or(s.read[id], s.asOf(id.String())))
			require.NoError(s.t, err)
			delete(s.read, id)
		}
	},
	"keep": func(s *soloist) {
		if id, ok := s.pick(); ok {
			s.keep(id.String())
		}
	},
	"same": func(s *soloist) {
		a, ok := s.pick()
		b, _ := s.pick()
		if !ok || a == b || kindName(a) != "prospect" || kindName(b) != "prospect" {
			return
		}
		_, err := s.Same(context.Background(), a.String(), b.String(), rapid.Bool().Draw(s.t, "apart"))
		require.True(s.t, err == nil || errors.Is(err, ErrUnseen) || errors.Is(err, ErrDisputed), "%v", err)
	},
	"another log": func(s *soloist) { // as after a crash
		s.mu.Lock()
		defer s.mu.Unlock()
		s.own.data = ownLog{}
	},
}

var schools = []string{"Salt Lick", "Low Ridge", "Stone Ferry"}

func listOf(school string) string {
	return "list_id,name,school,note\n7,Ned Arrow," + school + ",From the list.\n"
}

// readAgain says what reading each form of the list would change.
func (s *soloist) readAgain() []ImportReport {
	var reports []ImportReport
	for _, school := range schools {
		r, err := s.Import(context.Background(), ImportRequest{Kind: "prospect", Source: "North list", Data: []byte(listOf(school)), DryRun: true})
		require.NoError(s.t, err)
		reports = append(reports, ImportReport{Added: r.Added, Changed: r.Changed, Unchanged: r.Unchanged, Conflicts: r.Conflicts})
	}
	return reports
}

// write writes over what is shown; what is in conflict it settles.
func (s *soloist) write(id entry.RecordID, set Set) {
	_, err := s.Write(context.Background(), []Write{{Record: id.String(), Sets: []Set{set}}})
	if errors.Is(err, ErrDisputed) {
		_, err = s.Settle(context.Background(), Settlement{Record: id.String(), Set: Set{Field: set.Field, Seen: set.Seen}, Choose: set.Seen[0]})
	}
	require.NoError(s.t, err)
}

func TestRule33ShowsTheSameAfterwards(t *testing.T) {
	a := found(t)
	steps := sortedKeys(soloSteps)
	scouts := 0
	rapid.Check(t, func(rt *rapid.T) {
		scouts++ // nobody by that name is in the staff yet
		b := &laptop{t: t, name: fmt.Sprint("Scout ", scouts), cfg: Config{Data: t.TempDir(), State: t.TempDir()}}
		b.Node = open(t, b.cfg)
		defer b.stopNow()
		_, _, err := b.Found(context.Background(), "On my own", b.name, "")
		require.NoError(rt, err)
		s := &soloist{laptop: b, t: rt, read: map[entry.RecordID]string{}}
		for range rapid.IntRange(1, 25).Draw(rt, "steps") {
			soloSteps[rapid.SampledFrom(steps).Draw(rt, "step")](s)
		}
		before, lists := b.everything(), s.readAgain()
		moveInto(t, a, b, welcomeTo(t, a, b, b.name, entry.RoleScout))
		b.restart()
		require.Equal(rt, before, b.everything())
		require.Equal(rt, lists, s.readAgain(), "a list that is read again changes as much as it would have")
		faults, err := b.Verify(context.Background(), func(uint64, uint64) {})
		require.NoError(rt, err)
		require.Empty(rt, faults)
	})
}

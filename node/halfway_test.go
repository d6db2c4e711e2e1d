package node

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// What fails half-way can be done again in the same folders.
func TestFoundingThatFailsLeavesNothingBehind(t *testing.T) {
	for name, fails := range map[string]func(*laptop) (staff, person string, repair func()){
		"a name of nothing": func(*laptop) (string, string, func()) { return "Harbor Point", "  ", func() {} },
		"a state folder that can't be written to": func(l *laptop) (string, string, func()) {
			require.NoError(t, os.Rename(l.cfg.State, l.cfg.State+".away"))
			return "Harbor Point", "Maren Ostrava", func() { require.NoError(t, os.Rename(l.cfg.State+".away", l.cfg.State)) }
		},
	} {
		t.Run(name, func(t *testing.T) {
			l := newLaptop(t, "Maren Ostrava")
			staff, person, repair := fails(l)
			_, _, err := l.Found(t.Context(), staff, person, "")
			require.Error(t, err)
			repair()
			root, _, err := l.Found(t.Context(), "Harbor Point", "Maren Ostrava", "")
			require.NoError(t, err)
			require.NotEmpty(t, root)
			l.restart()
			l.add("prospect", "name", "Orrin Vale")
		})
	}
}

func TestJoiningIsRefusedBeforeAnybodyTypesACode(t *testing.T) {
	l := newLaptop(t, "Tove Lund")
	err := l.Join(t.Context(), JoinRequest{Address: "127.0.0.1:1", Word: "word", Device: "\t"}, func(PairingStep) error { return nil })
	refused(t, err, ErrInvalid)
}

// An invitation that can't end well isn't shown.
func TestInvitingIsRefusedBeforeAnybodyTypesACode(t *testing.T) {
	a := found(t)
	a.add("person", "name", "Tove Lund")
	a.add("person", "name", "Tove Lund")
	shown := func(s PairingStep) error { t.Errorf("step %s was shown", s.Step); return nil }
	refused(t, a.Invite(t.Context(), "Tove Lund", "", false, shown), ErrAmbiguous)
	refused(t, a.Invite(t.Context(), "Ilse Brandt", "no title of ours", false, shown), ErrInvalid)
	refused(t, a.Invite(t.Context(), " ", "", false, shown), ErrInvalid)
}

func TestClosingEndsAnInvitation(t *testing.T) {
	a := found(t)
	waiting, ended := make(chan struct{}), make(chan error, 1)
	go func() {
		ended <- a.Invite(context.Background(), "Tove Lund", "", false, func(PairingStep) error { close(waiting); return nil })
	}()
	<-waiting
	a.stopNow()
	require.Error(t, <-ended)
}

// A link that is over takes everything with it that waited for it.
func TestALinkThatEndsLeavesNoPump(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	for range 3 {
		connect(t, a, b)
		b.stopNow()
		require.Eventually(t, func() bool { return len(a.linked()) == 0 }, 20*time.Second, 5*time.Millisecond)
		b.Node = open(t, b.cfg)
	}
	b.stopNow()
	pumps := func() int {
		stacks := make([]byte, 1<<20)
		return strings.Count(string(stacks[:runtime.Stack(stacks, true)]), "(*peerLink).pump(")
	}
	require.Eventually(t, func() bool { return len(a.linked()) == 0 && pumps() == 0 }, 20*time.Second, 10*time.Millisecond)
}

// A database's companion files belong to the one that was there before.
func TestRestoringBesideWhatIsLeftOfAnotherDatabaseIsRefused(t *testing.T) {
	a := found(t)
	a.add("prospect", "name", "Orrin Vale")
	backup := a.backup()
	a.stopNow()
	require.NoError(t, os.Remove(filepath.Join(a.cfg.Data, databaseFile)))
	require.NoError(t, os.WriteFile(filepath.Join(a.cfg.Data, databaseFile+"-wal"), []byte("left behind"), 0o600))
	refused(t, Restore(t.Context(), backup, a.cfg.Data, a.cfg.State), ErrExists)
}

// A revoked laptop that is invited again is the same laptop.
func TestARevokedLaptopJoinsAgain(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	before := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	connect(t, a, c)
	connect(t, c, a)
	b.restart()
	pair(t, a, b, "Tove Lund", false)
	after := b.add("prospect", "name", "Pim Rask")
	connect(t, a, b)
	connect(t, a, c)
	agree(t, a, b, c)
	require.Equal(t, []string{"Orrin Vale"}, c.texts(before, "name"))
	require.Equal(t, []string{"Pim Rask"}, c.texts(after, "name"))
	roster, err := a.Roster(t.Context())
	require.NoError(t, err)
	require.Len(t, roster, 3)
	for _, m := range roster {
		require.False(t, m.Revoked)
	}
}

// Whoever was welcomed without a grant belongs to nobody, and may found a staff.
func TestAWelcomeWithoutAGrantBindsNothing(t *testing.T) {
	a, b := found(t), newLaptop(t, "Tove Lund")
	control, err := a.controlLogs()
	require.NoError(t, err)
	own, err := a.director()
	require.NoError(t, err)
	cert, err := a.admitNewcomer(t.Context(), own, b.name, "", entry.RoleScout, b.public(), entry.PersonID{})
	require.NoError(t, err)
	data, err := a.welcome(t.Context(), cert)
	require.NoError(t, err)
	var w welcome
	require.NoError(t, json.Unmarshal(data, &w))
	w.Control = control // from before the grant
	_, err = b.enter(t.Context(), a.id().Root, w, joining{})
	require.ErrorContains(t, err, "don't admit")
	files, err := os.ReadDir(b.cfg.Data)
	require.NoError(t, err)
	for _, f := range files {
		require.NotContains(t, f.Name(), passingMove)
	}
	_, _, err = b.Found(t.Context(), "My own", b.name, "")
	require.NoError(t, err)
}

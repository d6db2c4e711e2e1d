package node

import (
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// recovered lets a new laptop recover the staff with the help of a member. Each
// root is typed in turn.
func recovered(t *testing.T, helper *laptop, r Recovery, roots ...string) (*laptop, PairingStep, error) {
	t.Helper()
	fresh := newLaptop(t, "new")
	shown, ended := make(chan PairingStep, 4), make(chan error, 1)
	go func() {
		ended <- helper.InviteByRoot(t.Context(), func(s PairingStep) error { shown <- s; return nil })
	}()
	waiting := <-shown
	r.Address, r.Word = loopback(waiting.Addresses), waiting.Word
	asked, done := make(chan PairingStep, 8), make(chan error, 1)
	go func() {
		done <- fresh.Recover(t.Context(), r, func(s PairingStep) error { asked <- s; return nil })
	}()
	mine, theirs := <-asked, <-shown
	require.NoError(t, helper.Answer(theirs.Pairing, mine.Code))
	require.NoError(t, fresh.Answer(mine.Pairing, theirs.Code))
	var last PairingStep
	for {
		select {
		case s := <-asked:
			if s.Step != "root" {
				last = s
				continue
			}
			require.NotEmpty(t, roots, "asked for a root once more: %s", s.Wrong)
			text := []byte(roots[0])
			require.NoError(t, fresh.Root(s.Pairing, text))
			require.Equal(t, make([]byte, len(text)), text, "the text is overwritten")
			roots = roots[1:]
		case err := <-done:
			helped := <-ended
			if err == nil {
				require.NoError(t, helped)
			}
			if len(asked) > 0 {
				last = <-asked
			}
			return fresh, last, err
		}
	}
}

// staffOf founds a staff and keeps its root's text.
func rooted(t *testing.T) (*laptop, string) {
	t.Helper()
	l := newLaptop(t, "Maren Ostrava")
	root, _, err := l.Found(t.Context(), "Harbor Point", l.name, "maren's laptop")
	require.NoError(t, err)
	return l, root
}

func TestRule35TheStaffIsRecoveredFromItsRoot(t *testing.T) {
	lost, root := rooted(t)
	scout := join(t, lost, "Tove Lund", false)
	connect(t, lost, scout)
	id := lost.add("prospect", "name", "Orrin Vale")
	opinion := lost.add("evaluation", "prospect", id.String(), "overall", "6")
	agree(t, lost, scout)
	before := scout.usable()
	lost.stopNow()

	fresh, done, err := recovered(t, scout, Recovery{Device: "new laptop"}, root)
	require.NoError(t, err)
	require.Equal(t, []string{"maren's laptop"}, done.Cut)
	cert, err := fresh.director()
	require.NoError(t, err)
	require.Equal(t, uint64(1), cert.Generation)
	require.Equal(t, []string{"Orrin Vale"}, fresh.texts(id, "name"))
	fresh.set(opinion, "overall", "7") // the same person's
	sameKeys(t, fresh, scout)
	require.NotContains(t, fresh.usable(), before[0], "the lost laptop knows it")
	require.NoError(t, fresh.Connect(t.Context(), scout.mesh.Address().String()))
	agree(t, fresh, scout)
	lost.restart()
	silent(t, scout, lost)
	lost.restart()
	silent(t, fresh, lost)
	_, err = lost.Revoke(t.Context(), "Maren Ostrava", false)
	refused(t, err, ErrRights)

	// Once more: the generation rises, and the new one can cut the last.
	again, _, err := recovered(t, scout, Recovery{Person: "Ilse Brandt", Lost: []string{"new laptop"}}, root)
	require.NoError(t, err)
	cert, err = again.director()
	require.NoError(t, err)
	require.Equal(t, uint64(2), cert.Generation)
	require.Equal(t, "Ilse Brandt", again.reader(t.Context()).personName(cert.Person))
	eventually(t, "the last one hears of its cut", func() bool { _, _, err := fresh.standing(); return errors.Is(err, ErrRights) })
}

// A slip of the pen is asked for again; a wrong root leaves nothing anywhere.
func TestRule35AWrongRootLeavesNothing(t *testing.T) {
	director, root := rooted(t)
	_, other := rooted(t)
	scout := join(t, director, "Tove Lund", false)
	controls := func() int { n, _ := scout.Node.logs(); return n }
	before := controls()
	fresh, _, err := recovered(t, scout, Recovery{}, other, "ABCD EFGH", other)
	refused(t, err, ErrInvalid)
	require.ErrorContains(t, err, "root of another staff than Harbor Point")
	require.False(t, fresh.Founded())
	require.Empty(t, fresh.store.Branches())
	require.Equal(t, before, controls())

	slip := []byte(root)
	slip[0] = 'A' + (slip[0]-'A'+1)%26
	_, _, err = recovered(t, scout, Recovery{}, string(slip), root)
	require.NoError(t, err)
}

// The laptop that lets in stores nothing but a grant of this staff's root for the
// very laptop that it was paired with.
func TestRule35OnlyTheRootVouches(t *testing.T) {
	director, _ := rooted(t)
	stranger, _ := rooted(t)
	device, _, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	_, other, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	cert, err := director.newCertificate(entry.Certificate{Role: entry.RoleDirector, Device: device, Generation: 1})
	require.NoError(t, err)
	byOther, err := director.rootRun(other, director.store.Staff(), grant(cert, nil))
	require.NoError(t, err)
	theirs, err := stranger.controlLogs()
	require.NoError(t, err)
	own, err := director.controlLogs()
	require.NoError(t, err)
	for name, petition := range map[string][]byte{
		"nothing": nil, "signed by another key": introduction(byOther), "another staff's logs": theirs,
		"this staff's, that grants somebody else": own, "no logs at all": []byte("a root"),
	} {
		_, err := director.acceptRoot(device, petition)
		require.Errorf(t, err, name)
		require.NotContains(t, director.store.Verdict().Admitted(), entry.DeviceOf(device))
	}
}

// Who has a staff isn't made a member of another one by its root, and an ordinary
// invitation isn't answered with a root.
func TestRule35RecoveryIsForNewLaptops(t *testing.T) {
	director, _ := rooted(t)
	other, _ := rooted(t)
	refused(t, other.Recover(t.Context(), Recovery{Address: "127.0.0.1:9", Word: "x"}, nil), ErrHasStaff)
	lone := newLaptop(t, "nobody")
	refused(t, lone.InviteByRoot(t.Context(), nil), ErrNoStaff)
	refused(t, director.Invite(t.Context(), "", "", false, nil), ErrInvalid)
}

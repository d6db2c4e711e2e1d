package node

import (
	"crypto/ed25519"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/mesh"
)

// governed makes a director's control log long: many laptops are admitted, and cuts
// name many logs each. The laptops are invented.
func (l *laptop) governed(grants, cuts, logs int) {
	l.t.Helper()
	own, err := l.director()
	require.NoError(l.t, err)
	random := func(b []byte) []byte {
		_, err := l.Node.cfg.Random.Read(b)
		require.NoError(l.t, err)
		return b
	}
	var drafts []Draft
	var lost entry.DeviceID
	for range grants {
		public, _, err := ed25519.GenerateKey(l.Node.cfg.Random)
		require.NoError(l.t, err)
		cert, err := l.newCertificate(grantedBy(own, entry.Certificate{Person: own.Person, Role: entry.RoleScout, Device: public}))
		require.NoError(l.t, err)
		drafts, lost = append(drafts, Draft{Body: grant(cert, nil)}), entry.DeviceOf(public)
	}
	for range cuts {
		cut := entry.Cut{Device: lost, Beyond: entry.BeyondNothing}
		for range logs {
			cut.Heads = append(cut.Heads, entry.ID{Log: entry.LogID(random(make([]byte, 16))), Seq: 1, Hash: [16]byte(random(make([]byte, 16)))})
		}
		drafts = append(drafts, Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &cut}})
	}
	require.NoError(l.t, l.save(drafts...))
}

// However long the control logs have grown, a laptop that joins has the whole roster
// at once, and links with whoever has heard of it.
func TestJoiningAStaffWithLongControlLogs(t *testing.T) {
	a := found(t)
	c := join(t, a, "Ilse Brandt", false)
	a.governed(2000, 60, 1000)
	control, err := a.controlLogs()
	require.NoError(t, err)
	require.Greater(t, len(control), 2<<20)
	require.Greater(t, len(control), mesh.MaxIntroduction)
	connect(t, a, c)

	b := join(t, a, "Tove Lund", false)
	require.Equal(t, a.store.Verdict().Admitted(), b.store.Verdict().Admitted())
	require.Equal(t, len(a.store.Verdict().Cuts), len(b.store.Verdict().Cuts))
	b.add("prospect", "name", "Orrin Vale")
	connect(t, a, b)
	agree(t, a, b, c)
	a.stopNow()
	connect(t, c, b)
	b.add("prospect", "name", "Pim Rask")
	agree(t, b, c)
}

// A laptop that was away while others joined meets one of them first. The whole of
// the control logs is too long to be shown to it, but what is new of them isn't.
func TestStrangersOfAStaffWithLongControlLogs(t *testing.T) {
	a := found(t)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, c)
	a.governed(1500, 0, 0)
	agree(t, a, c)
	c.alone() // away while the next ones join
	a.governed(300, 1, 1000)
	b := join(t, a, "Tove Lund", false)
	control, err := b.controlLogs()
	require.NoError(t, err)
	require.Greater(t, len(control), mesh.MaxIntroduction)
	shown := b.introduce()
	require.NotEmpty(t, shown)
	require.LessOrEqual(t, len(shown), mesh.MaxIntroduction)
	id := b.add("prospect", "name", "Orrin Vale")
	a.stopNow()
	c.restart()
	connect(t, c, b)
	require.Equal(t, []string{"Orrin Vale"}, c.texts(id, "name"))
	require.Equal(t, b.store.Verdict().Admitted(), c.store.Verdict().Admitted())
}

// Somebody may have been away for longer than an introduction tells of. Then nothing
// of it is kept, and the two link once either has met somebody who knows both.
func TestAnIntroductionThatDoesNotReachBackFarEnough(t *testing.T) {
	a := found(t)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, c)
	c.alone()
	a.governed(2500, 0, 0)
	b := join(t, a, "Tove Lund", false)
	a.stopNow()
	c.restart()
	held := c.store.StateHash()
	err := c.Connect(t.Context(), b.mesh.Address().String())
	require.ErrorContains(t, err, "meets a laptop that knows both")
	require.Equal(t, held, c.store.StateHash())
	a.restart()
	connect(t, a, c)
	agree(t, a, c)
	connect(t, c, b)
}

// What is newest of the logs shows nothing but what its directors signed, and attaches
// to what is held: a member who knows a link key, whom nobody has to admit, can have a
// laptop keep neither words of their own nor a director's other log.
func TestNothingElseIsLearntFromPartsOfLogs(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	agree(t, a, b)
	a.governed(3, 0, 0)
	a.add("prospect", "name", "Orrin Vale")
	learn := func(change func(*introducedLog), of func(storage.BranchInfo) bool) error {
		out := []byte{0, 1}
		for _, l := range a.store.Branches() {
			if !of(l) || l.Device != entry.DeviceOf(a.public()) {
				continue
			}
			after := a.store.Samples(l.Log, l.Tip)[1] // one before the last
			raws, points, err := a.store.Range(l.Log, after, l.Tip, 1<<20)
			require.NoError(t, err)
			part := introducedLog{log: l.Log, after: after, raws: raws, points: points}
			change(&part)
			return Learn(part.appendPart(out), b.store.Staff(), b.store, func(run entry.Run) error {
				_, err := b.store.Append(t.Context(), run)
				return err
			})
		}
		t.Fatal("no such log")
		return nil
	}
	b.stopNow()
	b.alone()
	held := b.store.Tips()
	require.NoError(t, learn(func(*introducedLog) {}, isControl), "what isn't attached is left")
	require.Equal(t, held, b.store.Tips())
	b.stopNow()
	b.restart()
	connect(t, a, b)
	agree(t, a, b)
	held = b.store.Tips()
	require.NoError(t, learn(func(*introducedLog) {}, isControl), "what is held is held")
	require.Equal(t, held, b.store.Tips())
	require.NoError(t, learn(func(*introducedLog) {}, func(b storage.BranchInfo) bool { return !b.Control }))
	for what, change := range map[string]func(*introducedLog){
		"another signature": func(l *introducedLog) { l.points[0].Signature[5] ^= 1 },
		"no signature":      func(l *introducedLog) { l.points = nil },
		"other words":       func(l *introducedLog) { l.raws[0].Body = append(l.raws[0].Body, 0) },
	} {
		require.Error(t, learn(change, isControl), what)
	}
	require.Equal(t, held, b.store.Tips())
}

package node

import (
	"crypto/ed25519"
	"testing"

	"github.com/stretchr/testify/require"

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

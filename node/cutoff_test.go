package node

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/mesh"
)

// A laptop that is revoked while linked, takes nothing more and doesn't hang up
// is cut off all the same, and doesn't get in again.
func TestARevokedLaptopThatStaysIsCutOff(t *testing.T) {
	a := found(t)
	h := turned(t, join(t, a, "Tove Lund", false))
	h.offers(a, exchange.NewMemory(h.staff))
	require.Eventually(t, func() bool { return len(a.linked()) == 1 }, time.Minute, time.Millisecond)
	h.mu.Lock() // from here on it handles nothing
	began := time.Now()
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return len(a.linked()) == 0 }, time.Minute, time.Millisecond)
	t.Logf("cut off %v after the command", time.Since(began).Round(time.Millisecond))
	h.mu.Unlock()
	require.Error(t, <-h.ended)
	require.ErrorIs(t, h.mesh.Dial(t.Context(), a.mesh.Address().String()), mesh.ErrNoAnswer)
	require.Empty(t, a.linked())
}

// A cut that comes by way of another laptop reaches the one that it cuts before that
// laptop hears it no more.
func TestACutIsHeardFromWhoeverPassesItOn(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	lost := join(t, b, "Pia Norrland", false) // it knows no address of a
	connect(t, a, b)
	connect(t, b, lost)
	agree(t, a, b, lost)
	require.False(t, a.linkedTo(lost))
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	eventually(t, "it has heard of its cut", func() bool { return len(lost.store.Verdict().Cuts) == 1 })
	eventually(t, "its link is over", func() bool { return len(b.Node.linked()) == 1 })
}

// A laptop that was revoked and joined again has a new certificate. With the old
// one, which still has the right key, it is refused.
func TestASupersededCertificateIsRefused(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	old, err := b.certificate()
	require.NoError(t, err)
	connect(t, a, b)
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return len(b.Node.linked()) == 0 }, time.Minute, 10*time.Millisecond)
	pair(t, a, b, "Tove Lund", false)
	connect(t, a, b)
	h := turned(t, b)
	require.NotEqual(t, old, h.cert)
	current := h.cert
	for _, c := range []struct {
		cert []byte
		want error
	}{{old, mesh.ErrRefused}, {current, nil}} {
		h.cert = c.cert
		require.ErrorIs(t, h.mesh.Dial(t.Context(), a.mesh.Address().String()), c.want)
	}
}

// A director's cut that doesn't count, as that director was cut before, may be heard
// of a moment before that is, and whom it cuts is told goodbye. Both laptops go on
// once one of them knows: it sends things again, over a new link, and the other one
// is let in though it holds itself for revoked.
func TestWhoIsReadmittedDuringTheirFarewellIsSentThingsAgain(t *testing.T) {
	for name, joins := range map[string]func(former *laptop) *laptop{
		"who joined once": func(former *laptop) *laptop { return join(t, former, "Pia Norrland", false) },
		"who holds a certificate that was cut for good": func(former *laptop) *laptop {
			c := join(t, former, "Pia Norrland", true)
			_, err := former.Revoke(t.Context(), "Pia Norrland", false)
			require.NoError(t, err)
			pair(t, former, c, "Pia Norrland", false)
			return c
		},
	} {
		t.Run(name, func(t *testing.T) {
			a := found(t)
			former := join(t, a, "Tove Lund", true)
			b := join(t, a, "Ilse Brandt", false)
			c := joins(former)
			connect(t, a, former)
			connect(t, a, b)
			connect(t, former, c)
			agree(t, a, former, b, c)
			a.alone()
			former.alone()
			connect(t, b, c)
			_, err := former.Revoke(t.Context(), "Pia Norrland", false)
			require.NoError(t, err)
			_, err = a.Revoke(t.Context(), "Tove Lund", false)
			require.NoError(t, err)
			b.hears(former)
			require.False(t, b.admits(c))
			b.hears(a)
			require.True(t, b.admits(c))
			b.add("prospect", "name", "Orrin Vale")
			agree(t, b, c)
			require.True(t, c.admits(c))
			c.add("prospect", "name", "Pim Rask")
			agree(t, b, c)
		})
	}
}

// hears takes in the control logs of another laptop.
func (l *laptop) hears(of *laptop) {
	l.t.Helper()
	data, err := of.controlLogs()
	require.NoError(l.t, err)
	require.NoError(l.t, l.learn(data))
}

func (l *laptop) admits(other *laptop) bool {
	_, member := l.store.Verdict().Admitted()[entry.DeviceOf(other.public())]
	return member
}

// Control entries often come one behind the other, a cut and the new link key: who
// judges anew for the second waits for the farewell as for the first.
func TestASecondVerdictDoesntCutAFarewellShort(t *testing.T) {
	l := &peerLink{wake: make(chan struct{}, 1)}
	l.queue([]byte("you were cut"))
	for _, said := range []<-chan struct{}{l.leave(), l.leave()} {
		select {
		case <-said:
			t.Error("the farewell is over, and nothing was sent")
		default:
		}
	}
	_, more := l.next()
	require.True(t, more)
	_, more = l.next()
	require.False(t, more)
	<-l.leave()
}

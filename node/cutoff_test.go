package node

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

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

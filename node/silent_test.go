package node

import (
	"crypto/ed25519"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/mesh"
)

// announcing is holdings that announce more of a control log than there is.
type announcing struct {
	*exchange.Memory
	log entry.LogID
}

func (a announcing) Tips() []exchange.Tip {
	return []exchange.Tip{{Log: a.log, Point: entry.Point{Seq: 1 << 20, Hash: entry.Hash{1}}, Control: true}}
}

// A member announces more of the director's control log, and never answers when it is
// asked for that. It can't keep from others what the director says over another link: not
// even that it was revoked.
func TestRule31WhoNeverAnswersKeepsNothingAway(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Pia Norrland", false)
	agree(t, a, b)
	var control entry.LogID
	for _, branch := range b.store.Branches() {
		if branch.Control && branch.Device == entry.DeviceOf(a.public()) {
			control = branch.Log
		}
	}
	h := turned(t, c)
	h.deaf = true
	b.stopNow()
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	a.stopNow()
	b.restart()
	h.offers(b, announcing{exchange.NewMemory(h.staff), control})
	asked := func() (waits bool) {
		b.mu.Lock()
		defer b.mu.Unlock()
		for link := range b.links {
			s := b.core.Session(link)
			waits = waits || s != nil && s.Awaits() != 0
		}
		return waits
	}
	eventually(t, "the member is asked", asked)
	a.restart()
	eventually(t, "the director is linked", func() bool {
		err := b.mesh.Dial(t.Context(), loopback([]string{a.mesh.Address().String()}))
		return err == nil || errors.Is(err, mesh.ErrLinked)
	})
	seen := silence{}
	for range silentLooks {
		b.lookForSilence(seen)
	}
	require.True(t, asked(), "it had time")
	b.lookForSilence(seen)
	eventually(t, "what the director says has come", func() bool {
		_, member := b.store.Verdict().Admitted()[entry.DeviceOf(h.key.Public().(ed25519.PublicKey))]
		return !member
	})
}

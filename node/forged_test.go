package node

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// What a member sends that its author never wrote, or not like this, is refused
// with the laptop's name; nothing of it is stored, and others go on.
func TestChainsThatDontHoldAreRefusedAndNamed(t *testing.T) {
	a := found(t)
	honest := join(t, a, "Ilse Brandt", false)
	h := turned(t, join(t, a, "Tove Lund", false))
	connect(t, a, honest)
	honest.add("prospect", "name", "Orrin Vale")
	agree(t, a, honest)
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	victim, err := honest.certificate()
	require.NoError(t, err)

	written := func() entry.Run { return h.writer().open().names(0, "Wes Tarn", "Ned Arrow").signed() }
	bent := func(bend func([]entry.Raw, []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint)) exchange.Holdings {
		return bending{holding(t, h.staff, written()), bend}
	}
	for name, c := range map[string]struct {
		want     error
		holdings exchange.Holdings
	}{
		"a body that was changed": {entry.ErrDigest, bent(func(raws []entry.Raw, points []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint) {
			raws[1].Body = bytes.Replace(raws[1].Body, []byte("Wes Tarn"), []byte("Wes Torn"), 1)
			return raws, points
		})},
		"an entry left out": {entry.ErrUnsigned, bent(func(raws []entry.Raw, points []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint) {
			return slices.Delete(raws, 1, 2), points
		})},
		"two in another order": {entry.ErrLamport, bent(func(raws []entry.Raw, points []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint) {
			raws[1], raws[2] = raws[2], raws[1]
			return raws, points
		})},
		"one entry twice": {entry.ErrLamport, bent(func(raws []entry.Raw, points []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint) {
			return append(raws, raws[2]), points
		})},
		"no signature": {entry.ErrUnsigned, bent(func(raws []entry.Raw, points []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint) {
			points[len(points)-1].Signature = make([]byte, ed25519.SignatureSize)
			return raws, points
		})},
		"another laptop's name":            {entry.ErrUnsigned, holding(t, h.staff, inTheNameOf(h, victim))},
		"a log of another staff, replayed": {entry.ErrMalformed, holding(t, h.staff, replayed(t, h))},
		"backdated by Lamport time":        {entry.ErrLamport, holding(t, h.staff, backdated(h))},
		"a Lamport time too far ahead":     {entry.ErrLamport, holding(t, h.staff, leaping(h))},
	} {
		t.Run(name, func(t *testing.T) {
			a.mu.Lock()
			clear(a.unsound)
			a.mu.Unlock()
			h.offers(a, c.holdings)
			require.Eventually(t, func() bool {
				a.mu.Lock()
				defer a.mu.Unlock()
				return errors.Is(a.unsound[entry.DeviceOf(h.key.Public().(ed25519.PublicKey))], c.want)
			}, time.Minute, 10*time.Millisecond, "nobody is suspected")
			s, err := a.Status(t.Context())
			require.NoError(t, err)
			require.Contains(t, s.Trouble, "Tove Lund's laptop")
			require.Equal(t, before.Entries, s.Entries, "something was stored")
			require.Equal(t, before.StateHash, s.StateHash)
		})
	}
	honest.add("prospect", "name", "Lio Farrow")
	agree(t, a, honest)
}

// inTheNameOf writes a log that says it is another device's, whose certificate
// everybody has. The key is not there, so the signature is made with another.
func inTheNameOf(h *hostile, certificate []byte) entry.Run {
	cert, err := entry.DecodeCertificate(certificate)
	require.NoError(h.t, err)
	s := h.writer()
	// Go's private keys are seed and public key: this one signs for whom it isn't.
	s.Key = append(slices.Clone(h.key.Seed()), cert.Device...)
	s.cert = certificate
	return s.open().names(0, "Wes Tarn").signed()
}

// replayed is a log that holds, of a director of another staff.
func replayed(t *testing.T, h *hostile) entry.Run {
	_, key, err := ed25519.GenerateKey(rand.Reader)
	require.NoError(t, err)
	s := &scribe{t: t, Writer: entry.Writer{Staff: entry.StaffOf(key.Public().(ed25519.PublicKey)), Key: key, Random: rand.Reader}}
	run := s.open().names(0, "Wes Tarn").signed()
	run.After.Hash = entry.Origin(h.staff)
	return run
}

// backdated is signed as a whole, but its second entry says that it was written
// before its first one.
func backdated(h *hostile) entry.Run {
	s := h.writer().open().names(1000, "Wes Tarn")
	s.Lamport = 3
	return s.names(0, "Ned Arrow").signed()
}

// leaping says that its author has seen what no laptop can have seen.
func leaping(h *hostile) entry.Run {
	s := h.writer().open()
	s.Lamport = 1 << 40
	return s.names(1<<41, "Wes Tarn").signed()
}

// A member drives the Lamport clock as fast as the rules allow. Everybody writes
// on, later writes still win over earlier ones, and all agree.
func TestAMemberDrivesTheClock(t *testing.T) {
	a := found(t)
	honest := join(t, a, "Ilse Brandt", false)
	h := turned(t, join(t, a, "Tove Lund", false))
	connect(t, a, honest)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Stone Ferry")
	agree(t, a, honest)
	s := h.writer().open()
	for range 1000 {
		s.names(1<<63, "Wes Tarn")
	}
	h.offers(a, holding(t, h.staff, s.signed()))
	require.Eventually(t, func() bool { return a.store.Lamport() > 1000<<32 }, time.Minute, 10*time.Millisecond)
	agree(t, a, honest)
	honest.set(id, "school", "Low Ridge")
	agree(t, a, honest)
	a.set(id, "school", "North Fork")
	agree(t, a, honest)
	for _, l := range []*laptop{a, honest} {
		require.Equal(t, []string{"North Fork"}, l.texts(id, "school"))
		faults, err := l.Verify(t.Context(), func(uint64, uint64) {})
		require.NoError(t, err)
		require.Empty(t, faults)
	}
}

// A member announces more logs than any staff has. The link ends, and the
// laptop is named.
func TestLogsWithoutEndAreNamed(t *testing.T) {
	a := found(t)
	h := turned(t, join(t, a, "Tove Lund", false))
	h.offers(a, crowd{exchange.NewMemory(h.staff)})
	require.Error(t, <-h.ended)
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Contains(t, s.Trouble, "Tove Lund's laptop")
	require.Contains(t, s.Trouble, exchange.ErrTooMany.Error())
}

// crowd says that it holds 200,000 logs.
type crowd struct{ *exchange.Memory }

func (c crowd) Tips() []exchange.Tip {
	tips := make([]exchange.Tip, 200_000)
	for i := range tips {
		rand.Read(tips[i].Log[:])
		tips[i].Seq = 9
	}
	return tips
}

func (c crowd) Holds(entry.LogID, entry.Point) bool { return true }

// A revoked laptop's owner rewrites history below the point of the cut, with
// small Lamport times and an old clock, and gets it to an honest laptop that
// hasn't heard of the cut. Both branches are kept and the fork is named;
// nothing of the new one counts anywhere, and all of it is listed.
func TestHistoryRewrittenBelowACutIsSetAside(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	third := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, third)
	kept := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, third)
	b.stopNow() // its log goes on at the next start
	b.restart()
	connect(t, a, b)
	last := b.add("prospect", "name", "Ned Arrow")
	agree(t, a, b, third)
	runs := ownRuns(t, b)
	h := turned(t, b)
	third.stopNow()
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	a.stopNow()

	third.restart()
	h.offers(third, holding(t, h.staff, rewritten(h, runs[0])))
	require.Eventually(t, func() bool {
		s, err := third.Status(t.Context())
		return err == nil && len(s.Forked) == 1
	}, time.Minute, 10*time.Millisecond)
	require.NoError(t, h.mesh.Close())
	a.restart()
	connect(t, a, third)
	for _, l := range []*laptop{a, third} {
		require.Equal(t, []string{"Orrin Vale"}, l.texts(kept, "name"))
		require.Equal(t, []string{"Ned Arrow"}, l.texts(last, "name"))
		s, err := l.Status(t.Context())
		require.NoError(t, err)
		require.Len(t, s.Forked, 1, "the fork is named")
		aside := l.aside(10)
		require.Len(t, aside.Revisions, 2)
		for _, e := range aside.Revisions {
			require.Equal(t, "Tove Lund", e.Author.Name)
		}
	}
}

// ownRuns returns the logs that a laptop has written, as it would send them.
func ownRuns(t *testing.T, l *laptop) []entry.Run {
	t.Helper()
	data, err := l.ownWriting()
	require.NoError(t, err)
	logs, err := readIntroduction(data)
	require.NoError(t, err)
	var runs []entry.Run
	for _, log := range logs {
		run, err := entry.Verify(log.whole(l.store.Staff()), log.raws, log.points)
		require.NoError(t, err)
		runs = append(runs, run)
	}
	return runs
}

// rewritten keeps a log's first two entries and goes on differently.
func rewritten(h *hostile, run entry.Run) entry.Run {
	s := h.writer()
	run.Entries = slices.Clone(run.Entries[:2])
	s.run, s.Log, s.Tip, s.Lamport = run, run.Log, run.Entries[1].Point, run.Entries[1].Header.Lamport
	return s.names(0, "Backdated One", "Backdated Two").signed()
}

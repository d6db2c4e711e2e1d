package node

import (
	"encoding/binary"
	mathrand "math/rand/v2"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// swarm is a member's holdings of logs without end, an entry in each. They are
// written when they are asked for, so that it takes little memory itself.
type swarm struct {
	*exchange.Memory
	h     *hostile
	tips  []exchange.Tip
	index map[entry.LogID]int
	given atomic.Int64
}

func newSwarm(h *hostile, from, to int) *swarm {
	s := &swarm{Memory: exchange.NewMemory(h.staff), h: h, index: map[entry.LogID]int{}}
	for i := from; i < to; i++ {
		run := s.log(i).run
		s.tips = append(s.tips, exchange.Tip{Log: run.Log, Point: run.Tip()})
		s.index[run.Log] = i
	}
	return s
}

func (s *swarm) log(i int) *scribe {
	w := s.h.writer()
	var seed [32]byte
	binary.BigEndian.PutUint64(seed[:], uint64(i))
	w.Random = mathrand.NewChaCha8(seed)
	return w.open()
}

func (s *swarm) Tips() []exchange.Tip { return s.tips }

func (s *swarm) Holds(log entry.LogID, _ entry.Point) bool { return true }

func (s *swarm) Range(log entry.LogID, _, _ entry.Point, _ int) ([]entry.Raw, []entry.SignedPoint, error) {
	i, ours := s.index[log]
	if !ours {
		return nil, nil, exchange.ErrNotHeld
	}
	s.given.Add(1)
	w := s.log(i)
	run := w.signed()
	return []entry.Raw{run.Entries[0].Raw}, run.Points, nil
}

// told reports whether the laptop has answered about all of them.
func (h *hostile) told() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.session != nil && h.session.Ahead() == 0
}

// A member that opens logs without end is named, and gets no more than a number
// of them onto other laptops. What others write goes on meanwhile, also what the
// member wrote before; what was refused isn't asked for again.
func TestAMemberWithLogsWithoutEnd(t *testing.T) {
	a := found(t)
	honest := join(t, a, "Ilse Brandt", false)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	before := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	h := turned(t, b)
	const over = 300
	crowd := newSwarm(h, 0, storage.LogsLimit+over)
	h.offers(a, crowd)
	honest.add("prospect", "name", "Wes Tarn")
	connect(t, a, honest)
	require.Eventually(t, h.told, 3*time.Minute, 50*time.Millisecond)
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Contains(t, s.Trouble, "Tove Lund's laptop")
	require.Contains(t, s.Trouble, "more than any laptop needs")
	require.NotContains(t, s.Trouble, "doesn't hold", "nothing of it is false")
	require.LessOrEqual(t, s.Logs, storage.LogsLimit+10)
	require.Equal(t, []string{"Orrin Vale"}, a.texts(before, "name"))
	after := honest.add("prospect", "name", "Ned Arrow")
	agree(t, a, honest)
	require.Equal(t, []string{"Ned Arrow"}, a.texts(after, "name"))

	given := crowd.given.Load()
	h.offers(a, crowd) // the same ones over another link
	require.Eventually(t, h.told, 3*time.Minute, 50*time.Millisecond)
	require.Equal(t, given, crowd.given.Load())
	faults, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
	// A director ends it; the laptop's first log, which the cut names, still counts.
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Equal(t, []string{"Orrin Vale"}, a.texts(before, "name"))
}

// BenchmarkGoalMemberWithLogsWithoutEnd lets a laptop, a process of its own, link
// with a member that offers as many logs as a link may, and prints what they cost
// it.
func BenchmarkGoalMemberWithLogsWithoutEnd(b *testing.B) {
	a := found(b)
	h := turned(b, join(b, a, "Tove Lund", false))
	crowd := newSwarm(h, 0, 49_000) // some more would end the link
	h.holdings = crowd
	a.stopNow()
	got := runChild(b, order{Data: a.cfg.Data, State: a.cfg.State, Address: h.mesh.Address().String(), Idle: 5 * time.Second})
	require.True(b, h.told())
	require.NotZero(b, crowd.given.Load())
	const what = "a member offers 49000 logs: "
	goal(what+"anonymous memory", "under 64 MiB more", mebibytes(got.Anonymous-got.Before)+" more", "", "")
	goal(what+"once calm", "", mebibytes(got.Resident-got.Before)+" more", "", "")
	goal(what+"until calm", "", seconds(got.Wall+got.Tidy)+", processor "+seconds(got.CPU+got.TidyCPU), "", "")
	info, err := os.Stat(filepath.Join(a.cfg.Data, databaseFile))
	require.NoError(b, err)
	goal(what+"file", "", mebibytes(info.Size()), "", "")
	b.ReportMetric(0, "ns/op")
}

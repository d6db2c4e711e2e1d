package node

import (
	"encoding/binary"
	mathrand "math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
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
	require.Contains(t, s.Trouble, "Tove Lund (")
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

// BenchmarkMemberWithLogsWithoutEnd offers a laptop 100,000 logs and prints what
// they cost it: memory that stays and at its highest, time of the processors
// (that of the member that makes them included), the file, the next start.
func BenchmarkMemberWithLogsWithoutEnd(b *testing.B) {
	for b.Loop() {
		a := found(b)
		h := turned(b, join(b, a, "Tove Lund", false))
		crowds := []*swarm{newSwarm(h, 0, 50_000), newSwarm(h, 50_000, 100_000)} // more ends a link
		rest, _ := footprintOf()
		stop := make(chan struct{})
		highest := make(chan uint64)
		go func() {
			var most uint64
			for {
				_, held := footprintOf()
				most = max(most, held)
				select {
				case <-stop:
					highest <- most
					return
				case <-time.After(20 * time.Millisecond):
				}
			}
		}()
		debug.FreeOSMemory()
		_, held := footprintOf()
		cpu, began := cpuTime(), time.Now()
		for _, crowd := range crowds {
			h.offers(a, crowd)
			require.Eventually(b, h.told, 30*time.Minute, 200*time.Millisecond)
		}
		b.ReportMetric((cpuTime() - cpu).Seconds(), "cpu-s")
		b.ReportMetric(time.Since(began).Seconds(), "s")
		close(stop)
		b.ReportMetric(float64(<-highest-min(held, 1<<62))/(1<<20), "MiB-highest")
		h.link.Close("done")
		runtime.GC()
		stays, _ := footprintOf()
		b.ReportMetric(float64(stays-rest)/(1<<20), "MiB-staying")
		info, err := os.Stat(filepath.Join(a.cfg.Data, databaseFile))
		require.NoError(b, err)
		b.ReportMetric(float64(info.Size())/(1<<20), "MiB-file")
		began = time.Now()
		a.restart()
		b.ReportMetric(float64(time.Since(began).Milliseconds()), "ms-start")
	}
}

// footprintOf is what is in use by this process's heap, and all that it has taken
// from the system for it.
func footprintOf() (inUse, taken uint64) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc, m.HeapSys - m.HeapReleased
}

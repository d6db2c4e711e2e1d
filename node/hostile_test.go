package node

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"log/slog"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/mesh"
)

// hostile is a laptop whose owner runs another program on it: it holds a
// member's keys and certificate, links like any other over the real TLS front
// and message server, and says over the exchange whatever it likes.
type hostile struct {
	t     testing.TB
	staff entry.StaffID
	key   ed25519.PrivateKey
	cert  []byte
	mesh  *mesh.Mesh

	mu       sync.Mutex
	deaf     bool // it hears nothing, and so answers nothing
	holdings exchange.Holdings
	session  *exchange.Session
	link     mesh.Link
	ended    chan error
}

// turned stops a laptop's node and goes on with its keys in another way.
func turned(t testing.TB, l *laptop) *hostile {
	t.Helper()
	cert, err := l.certificate()
	require.NoError(t, err)
	h := &hostile{t: t, staff: l.store.Staff(), key: l.id().key(), cert: cert, ended: make(chan error, 16)}
	linkKeys, introduction := l.id().linkKeys(), l.introduce()
	l.stopNow()
	h.holdings = exchange.NewMemory(h.staff)
	h.mesh, err = mesh.Start(context.Background(), mesh.Config{
		Staff: h.staff, Device: h.key, Random: rand.Reader, Log: slog.New(slog.DiscardHandler), Handler: h,
		Certificate: func() []byte { return h.cert },
		LinkKeys:    func() [][32]byte { return linkKeys },
		// It doesn't mind whom it links with.
		Admit:     func([]byte) (mesh.Peer, error) { return mesh.Peer{}, nil },
		Introduce: func() []byte { return introduction },
		Host:      "127.0.0.1", Port: -1,
	})
	require.NoError(t, err)
	t.Cleanup(func() { h.mesh.Close() })
	return h
}

// writer makes entries of the laptop's device in a new log.
func (h *hostile) writer() *scribe {
	return &scribe{t: h.t, Writer: entry.Writer{Staff: h.staff, Key: h.key, Random: rand.Reader}, cert: h.cert}
}

// offers links to a laptop and offers it the holdings.
func (h *hostile) offers(to *laptop, holdings exchange.Holdings) {
	h.t.Helper()
	h.mu.Lock()
	h.holdings = holdings
	if h.link != nil {
		h.link.Close("another attempt")
	}
	h.mu.Unlock()
	require.Eventually(h.t, func() bool {
		return h.mesh.Dial(h.t.Context(), loopback([]string{to.mesh.Address().String()})) == nil
	}, time.Minute, 20*time.Millisecond)
}

func (h *hostile) Linked(link mesh.Link) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.link, h.session = link, exchange.New(exchange.Config{Holdings: h.holdings})
	h.do(h.session.Open())
}

func (h *hostile) Received(_ mesh.Link, message []byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.deaf {
		h.do(h.session.Receive(message))
	}
}

func (h *hostile) Unlinked(_ mesh.Link, err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.session.Close()
	select {
	case h.ended <- err:
	default: // nobody waits for it
	}
}

// do carries out what the session wants said. It stores nothing.
func (h *hostile) do(actions []exchange.Action) {
	for _, a := range actions {
		switch a := a.(type) {
		case exchange.Send:
			_ = h.link.Send(context.Background(), a.Message) // the other side may have hung up
		case exchange.Store:
			h.do(h.session.Stored(a.Run, exchange.ErrNotHeld))
		}
	}
}

// scribe writes a log whose entries need not hold.
type scribe struct {
	entry.Writer
	t    testing.TB
	cert []byte
	run  entry.Run
}

func (s *scribe) open() *scribe {
	first, err := s.Writer.Open(false, s.cert, 0, 0)
	require.NoError(s.t, err)
	s.run = entry.Run{Log: s.Log, After: entry.Point{Hash: entry.Origin(s.Staff)}, Entries: []entry.Entry{first}}
	return s
}

// names writes prospects, held being the highest Lamport time that the scribe
// says it has seen.
func (s *scribe) names(held uint64, names ...string) *scribe {
	for _, name := range names {
		var unique [16]byte
		rand.Read(unique[:])
		draft, err := typed(record.Prospect, entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, unique), map[string]string{"name": name})
		require.NoError(s.t, err)
		e, err := s.Append(draft.Record, draft.Body, held, 0)
		require.NoError(s.t, err)
		s.run.Entries = append(s.run.Entries, e)
	}
	return s
}

// signed ends the run.
func (s *scribe) signed() entry.Run {
	s.run.Points = []entry.SignedPoint{s.Sign()}
	return s.run
}

// holding returns holdings of runs, verified or not.
func holding(t *testing.T, staff entry.StaffID, runs ...entry.Run) *exchange.Memory {
	t.Helper()
	m := exchange.NewMemory(staff)
	for _, run := range runs {
		_, err := m.Append(run)
		require.NoError(t, err)
	}
	return m
}

// bending returns what is held with a change that its author never made.
type bending struct {
	*exchange.Memory
	bend func([]entry.Raw, []entry.SignedPoint) ([]entry.Raw, []entry.SignedPoint)
}

func (b bending) Range(log entry.LogID, after, upto entry.Point, most int) ([]entry.Raw, []entry.SignedPoint, error) {
	raws, points, err := b.Memory.Range(log, after, upto, most)
	raws, points = b.bend(raws, points)
	return raws, points, err
}

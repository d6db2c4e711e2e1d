package storage

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Report says what Verify found.
type Report struct {
	Entries, Points, Records int
	// Faults says what is wrong, in words; none when all is well. A file with
	// many faults has the first of them.
	Faults []string
	// Lost is how many are in the file itself, the entries or their signatures. All
	// the others are in what [Store.Rebuild] makes anew.
	Lost int
}

const maxFaults = 100

// fault tells of what can't be made anew.
func (r *Report) fault(format string, args ...any) {
	r.Lost++
	r.stale(format, args...)
}

// stale tells of what can.
func (r *Report) stale(format string, args ...any) {
	if len(r.Faults) < maxFaults {
		r.Faults = append(r.Faults, fmt.Sprintf(format, args...))
	}
}

// verifier checks one moment of the database, while others write on.
type verifier struct {
	ctx      context.Context
	q        querier
	m        *memory
	words    func(*merge.Record) string
	thorough bool        // the words in the search index are compared too
	index    *indexCheck // if so
	progress func(done, total int)
	done     int
	total    int
	report   Report
	hash     merge.StateHash
	refs     int
	marked   int // entries that say that they make up a record
	soles    int // records that one entry makes up
	worded   int
}

// Verify checks the file, every hash, digest and signature, and then everything
// derived against the entries. What it finds wrong is in the report; the error
// says why it couldn't look, [NoRoomError] among that. progress may be nil.
func (s *Store) Verify(ctx context.Context, progress func(done, total int)) (Report, error) {
	c, err := s.readers.besides(ctx)
	if err != nil {
		return Report{}, failure("verify", err)
	}
	defer c.close()
	v := &verifier{ctx: ctx, q: c.query, words: s.words(), progress: progress, thorough: true}
	if err := c.plain("BEGIN"); err != nil {
		return Report{}, failure("verify", err)
	}
	defer func() { _ = c.plain("ROLLBACK") }()
	err = v.run(s.builtBy())
	var room *NoRoomError
	if errors.As(err, &room) {
		room.Bytes = v.q.passingBytes()
		if len(v.report.Faults) == 0 {
			return v.report, room
		}
		err = nil // what was found is worth more
	}
	err = failure("verify", unlike(err))
	if errors.Is(err, ErrCorrupt) {
		v.report.fault("%v", err)
		err = nil
	}
	return v.report, err
}

// words is what the search index is made of.
func (s *Store) words() func(*merge.Record) string {
	if s.projector == nil {
		return func(*merge.Record) string { return "" }
	}
	return func(r *merge.Record) string { return s.projector.Words(r.ID, liveValues(r)) }
}

func (v *verifier) run(by versions) (err error) {
	if err := v.file(); err != nil {
		return err
	}
	if v.m, err = load(v.q); err != nil {
		return err
	}
	if v.m.unreadable != nil {
		v.report.stale("derived: %v", v.m.unreadable)
	}
	if err := v.count(); err != nil {
		return err
	}
	derived := !v.m.fold.behind && !v.m.Blocked() && v.m.fold.by == by
	for n := range v.m.branches {
		if err := v.branch(merge.Branch(n), derived); err != nil {
			return err
		}
	}
	if !derived {
		return nil
	}
	if v.thorough {
		if v.index, err = newIndexCheck(v.ctx); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, v.index.close()) }()
	}
	return v.records()
}

// file lets SQLite check its pages and indexes, and counts in the indexes
// besides: one whose page is that of an empty table, or of another index, passes
// SQLite's own check, and fails who asks by it. The check of the full-text index
// trusts what its connection remembers of the index, from before the last writes
// of others; opening a cursor on it makes it look again.
func (v *verifier) file() error {
	if err := v.q(func(func(...any) error) error { return nil }, "SELECT rowid FROM words LIMIT 1"); err != nil {
		return err
	}
	if err := v.schema(); err != nil {
		return err
	}
	if err := v.pages(); err != nil {
		return err
	}
	return v.indexes()
}

func (v *verifier) pages() error {
	return v.q(func(scan func(...any) error) error {
		var line string
		err := scan(&line)
		line = strings.Join(strings.Fields(line), " ")
		switch {
		case err != nil || line == "ok":
		case strings.Contains(line, "FTS5"):
			v.report.stale("search index: %s", line)
		default:
			v.report.fault("file: %s", line)
		}
		return err
	}, "PRAGMA integrity_check(20)")
}

// indexes counts the entries of each index and the rows that belong there. SQLite
// has looked for each row in its indexes; as many entries as rows means that
// there is none besides.
func (v *verifier) indexes() error {
	type index struct{ name, table, condition string }
	var indexes []index
	err := v.q(func(scan func(...any) error) error {
		var i index
		var text string
		err := scan(&i.name, &i.table, &text)
		i.condition = "1"
		if _, condition, partial := strings.Cut(text, " WHERE "); partial {
			i.condition = condition
		}
		indexes = append(indexes, i)
		return err
	}, "SELECT name, tbl_name, coalesce(sql, '') FROM sqlite_schema WHERE type = 'index'")
	if err != nil {
		return err
	}
	for _, i := range indexes {
		var entries, rows int
		if _, err := v.q.one(fmt.Sprintf("SELECT count(*) FROM %s INDEXED BY %s WHERE %s", i.table, i.name, i.condition), nil, &entries); err != nil {
			return err
		}
		if _, err := v.q.one(fmt.Sprintf("SELECT count(*) FROM %s NOT INDEXED WHERE %s", i.table, i.condition), nil, &rows); err != nil {
			return err
		}
		if entries != rows {
			v.report.fault("file: %d entries in index %s, %d rows belong there", entries, i.name, rows)
		}
	}
	return nil
}

func (v *verifier) count() error {
	var entries, points int
	_, err := v.q.one("SELECT (SELECT count(*) FROM entry), (SELECT count(*) FROM point), (SELECT count(*) FROM record)",
		nil, &entries, &points, &v.total)
	expected := 0
	for _, b := range v.m.branches {
		expected += int(b.tip.Seq - b.fork)
	}
	if entries != expected {
		v.report.fault("%d entries are stored, the branches have %d", entries, expected)
	}
	v.total += expected
	return err
}

// step tells how far the check has come, and stops when nobody waits for it.
func (v *verifier) step() error {
	v.done++
	if v.done%4096 != 0 && v.done != v.total {
		return nil
	}
	if v.progress != nil {
		v.progress(v.done, v.total)
	}
	return v.ctx.Err()
}

// branch walks along a branch from where it begins.
func (v *verifier) branch(n merge.Branch, derived bool) error {
	b := v.m.branches[n]
	at, lamport := entry.Point{Hash: entry.Origin(v.m.staff)}, uint64(0)
	if b.parent != noBranch {
		parent := merge.Place{Branch: b.parent, Seq: b.fork}
		hash, err := v.q.hashAt(parent)
		if err != nil {
			return err
		}
		at = entry.Point{Seq: b.fork, Hash: hash}
		if lamport, err = v.q.lamportAt(parent); err != nil {
			return err
		}
	}
	points, err := v.points(n)
	if err != nil {
		return err
	}
	w := &walk{verifier: v, n: n, b: b, at: at, lamport: lamport, points: points, judge: v.m.standing(b), derived: derived}
	err = v.q(w.row, `SELECT e.n, e.hash, e.header, e.body, e.status, e.kind, e.sole, r.id
		FROM entry e LEFT JOIN record r ON r.n = e.record WHERE e.n > ? AND e.n <= ? ORDER BY e.n`,
		keyOf(merge.Place{Branch: n, Seq: b.fork}), keyOf(merge.Place{Branch: n, Seq: below}))
	if err == nil && w.at != b.tip {
		v.report.fault("log %s, branch %d ends at entry %d, its tip says %d, or their hashes differ", b.log.id, n, w.at.Seq, b.tip.Seq)
	}
	for seq := range w.points {
		v.report.fault("log %s, branch %d: a point is signed at %d, where no entry is", b.log.id, n, seq)
	}
	return err
}

func (v *verifier) points(n merge.Branch) (map[uint64]entry.SignedPoint, error) {
	all, err := v.q.pointsOf(stretch{branch: n, first: 0, last: below})
	points := make(map[uint64]entry.SignedPoint, len(all))
	for _, p := range all {
		points[p.Seq] = p
	}
	v.report.Points += len(all)
	return points, err
}

// walk is the way along one branch.
type walk struct {
	*verifier
	n       merge.Branch
	b       *branch
	at      entry.Point
	lamport uint64
	points  map[uint64]entry.SignedPoint
	judge   standing
	derived bool
}

func (w *walk) fault(format string, args ...any) {
	w.report.fault("%s: %s", w, fmt.Sprintf(format, args...))
}

func (w *walk) String() string {
	return fmt.Sprintf("log %s, branch %d, entry %d", w.b.log.id, w.n, w.at.Seq)
}

// row checks one entry: that it is the one that was signed, and what its row
// derives from it.
func (w *walk) row(scan func(...any) error) error {
	var key entryKey
	var stored derived
	var hash, id []byte
	var sole int
	var raw entry.Raw
	if err := scan(&key, &hash, &raw.Header, &raw.Body, &stored.status, &stored.kind, &sole, &id); err != nil {
		return err
	}
	stored.record = entry.RecordID(id)
	w.report.Entries++
	w.marked += sole
	if seq := key.place().Seq; seq != w.at.Seq+1 {
		w.fault("followed by entry %d", seq)
		w.at.Seq = seq - 1
	}
	w.at = entry.Point{Seq: w.at.Seq + 1, Hash: w.at.Hash.Next(raw.Header)}
	if !bytes.Equal(hash, w.at.Hash[:]) {
		w.fault("the running hash isn't what its header and those before it give")
		copy(w.at.Hash[:], hash) // so that one wrong byte is told once
	}
	w.check(raw, stored)
	w.vouch()
	return w.step()
}

func (w *walk) check(raw entry.Raw, stored derived) {
	h, err := entry.DecodeHeader(raw.Header)
	if err != nil {
		w.fault("%v", err)
		return
	}
	if sha256.Sum256(raw.Body) != h.Body {
		w.fault("%v", entry.ErrDigest)
	}
	if h.Lamport <= w.lamport || h.Lamport-w.lamport > entry.LamportStep {
		w.fault("%v: %d after %d", entry.ErrLamport, h.Lamport, w.lamport)
	}
	w.lamport = h.Lamport
	if w.at.Seq == 1 {
		w.first(raw.Body)
	}
	if !w.derived {
		return
	}
	if is, err := derive(w.judge, w.at.ID(w.b.log.id), raw); err != nil || is != stored {
		w.report.stale("%s: its row says %s, its bytes %s", w, stored, is)
	}
}

// first holds a log's description against its first entry.
func (w *walk) first(body []byte) {
	b, err := entry.DecodeBody(body)
	if err != nil || b.Genesis == nil || entry.LogOf(w.at.Hash) != w.b.log.id || !bytes.Equal(b.Genesis.Device, w.b.log.genesis.Device) ||
		!bytes.Equal(b.Genesis.Certificate, w.b.log.genesis.Certificate) || b.Genesis.Control != w.b.log.genesis.Control {
		w.fault("the first entry isn't the one that the log is described by")
	}
}

func (w *walk) vouch() {
	p, ok := w.points[w.at.Seq]
	if !ok {
		if w.at.Seq == w.b.tip.Seq {
			w.fault("the last entry isn't signed")
		}
		return
	}
	delete(w.points, w.at.Seq)
	if p.Hash != w.at.Hash || !p.Signed(w.b.log.genesis.Device, w.m.staff, w.b.log.id) {
		w.fault("%v", entry.ErrUnsigned)
	}
}

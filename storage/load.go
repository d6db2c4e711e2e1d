package storage

import (
	"errors"
	"fmt"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// load reads from the database what is kept in memory, and judges.
func load(q querier) (*memory, error) {
	m := &memory{
		logs: map[entry.LogID]*logInfo{}, branchesOf: map[entry.DeviceID]int{}, tree: &merge.Tree{}, verdict: &merge.Verdict{},
		pairs: map[entry.RecordID]merge.Pair{}, retired: map[entry.RecordID][]entry.ID{},
		awaited: map[entry.ID][]entry.RecordID{}, next: map[entry.Kind]recordKey{},
		worded: map[entry.Kind]recordKey{},
	}
	for _, part := range []struct {
		name string
		load func(querier) error
	}{
		{"meta", m.loadMeta}, {"logs", m.loadLogs}, {"record numbers", m.loadNext},
		{"search index", m.loadWorded}, {"keys", m.loadUnkeyed}, {"control entries", m.loadControls},
		{"verdict", m.loadVerdict}, {"same-as", m.loadPairs}, {"retirements", m.loadRetired},
		{"awaited heads", m.loadAwaited}, {"set-aside entries", m.loadAside},
	} {
		if err := part.load(q); err != nil {
			return nil, fmt.Errorf("load %s: %w", part.name, err)
		}
	}
	return m, nil
}

func (m *memory) loadMeta(q querier) error {
	return q(func(scan func(...any) error) error {
		var key string
		var value []byte
		err := scan(&key, &value)
		switch {
		case err != nil:
			return err
		case key == keyStaff && len(value) == len(m.staff):
			m.staff = entry.StaffID(value)
		case key == keyFold:
			m.fold, err = decodeFold(value)
		}
		return err
	}, "SELECT key, value FROM meta WHERE key IN (?, ?)", keyStaff, keyFold)
}

func (m *memory) loadLogs(q querier) error {
	byNumber := map[int]*logInfo{}
	err := q(func(scan func(...any) error) error {
		var n int
		var id, genesis []byte
		if err := scan(&n, &id, &genesis); err != nil {
			return err
		}
		l, err := newLog(n, id, genesis)
		if err != nil {
			return err
		}
		byNumber[n], m.logs[l.id] = l, l
		return nil
	}, "SELECT n, id, genesis FROM log ORDER BY n")
	if err != nil {
		return err
	}
	err = q(func(scan func(...any) error) error {
		var n, log int
		var hash []byte
		b := &branch{}
		err := scan(&n, &log, &b.parent, &b.fork, &b.tip.Seq, &hash, &b.lamport)
		switch {
		case err != nil:
			return err
		case n != len(m.branches) || byNumber[log] == nil || len(hash) != len(b.tip.Hash) || int(b.parent) >= n:
			return fmt.Errorf("branch %d: %w", n, ErrCorrupt)
		}
		b.log, b.tip.Hash = byNumber[log], entry.Hash(hash)
		m.branches = append(m.branches, b)
		m.branchesOf[b.log.device]++
		m.lamport = max(m.lamport, b.lamport)
		if b.parent == noBranch {
			m.tree.AddLog(b.log.id)
		} else {
			m.tree.AddFork(merge.Place{Branch: b.parent, Seq: b.fork})
		}
		return nil
	}, "SELECT n, log, coalesce(parent, -1), fork, tip_seq, tip_hash, tip_lamport FROM branch ORDER BY n")
	return errors.Join(err, m.noStrays(q))
}

// noStrays refuses entries of a branch that isn't there: nobody could say whose they are.
func (m *memory) noStrays(q querier) error {
	next := merge.Branch(len(m.branches))
	var n entryKey
	stray, err := q.one("SELECT n FROM entry WHERE n >= ? LIMIT 1", []any{keyOf(merge.Place{Branch: next})}, &n)
	if stray {
		err = fmt.Errorf("entry %v is of none of %d branches: %w", n.place(), next, ErrCorrupt)
	}
	return err
}

// loadNext finds the highest number of each kind of record, from the last kind
// to the first.
func (m *memory) loadNext(q querier) error {
	for below := recordKey(1<<62 - 1); ; {
		var n recordKey
		found, err := q.one("SELECT n FROM record WHERE n < ? ORDER BY n DESC LIMIT 1", []any{below}, &n)
		if err != nil || !found {
			return err
		}
		if n >= below {
			return fmt.Errorf("number %d, not below %d: %w", n, below, ErrCorrupt)
		}
		m.next[n.kind()] = n + 1
		below = firstOf(n.kind())
	}
}

func newLog(n int, id, genesis []byte) (*logInfo, error) {
	body, err := entry.DecodeBody(genesis)
	if err != nil || body.Genesis == nil || len(id) != len(entry.LogID{}) {
		return nil, fmt.Errorf("log %d: %w", n, ErrCorrupt)
	}
	return &logInfo{id: entry.LogID(id), n: n, genesis: *body.Genesis, device: entry.DeviceOf(body.Genesis.Device)}, nil
}

func (m *memory) loadControls(q querier) error {
	for n, b := range m.branches {
		if !b.log.genesis.Control {
			continue
		}
		first := keyOf(merge.Place{Branch: merge.Branch(n), Seq: max(b.fork+1, 2)})
		last := keyOf(merge.Place{Branch: merge.Branch(n), Seq: b.tip.Seq})
		err := q(func(scan func(...any) error) error {
			var key entryKey
			var hash, body []byte
			if err := scan(&key, &hash, &body); err != nil {
				return err
			}
			if len(hash) != len(entry.Hash{}) {
				return fmt.Errorf("entry %v: %w", key.place(), ErrCorrupt)
			}
			id := entry.Point{Seq: key.place().Seq, Hash: entry.Hash(hash)}.ID(b.log.id)
			m.controls = append(m.controls, control(id, key.place(), body))
			return nil
		}, "SELECT n, hash, body FROM entry WHERE n BETWEEN ? AND ? ORDER BY n", first, last)
		if err != nil {
			return err
		}
	}
	return nil
}

// control reads an entry of a control log for the judge. What can't be read
// goes to the judge as a kind that nobody knows: it could mean anything.
func control(id entry.ID, at merge.Place, data []byte) merge.Control {
	body, err := entry.DecodeBody(data)
	if err != nil {
		body = entry.Body{}
	}
	return merge.Control{ID: id, Place: at, Body: body}
}

func (m *memory) loadVerdict(q querier) (err error) {
	if m.verdict, err = m.judge(q.hashAt); err != nil {
		return err
	}
	for n, b := range m.branches {
		b.span = m.verdict.Standing(b.log.id).Span(m.tree, merge.Branch(n))
	}
	return nil
}

// hashAt reads the running hash of an entry.
func (q querier) hashAt(at merge.Place) (h entry.Hash, err error) {
	var hash []byte
	found, err := q.one("SELECT hash FROM entry WHERE n = ?", []any{keyOf(at)}, &hash)
	if err == nil && (!found || len(hash) != len(h)) {
		err = fmt.Errorf("entry %v: %w", at, ErrCorrupt)
	}
	copy(h[:], hash)
	return h, err
}

// lamportAt reads the Lamport time of an entry.
func (q querier) lamportAt(at merge.Place) (uint64, error) {
	var header []byte
	found, err := q.one("SELECT header FROM entry WHERE n = ?", []any{keyOf(at)}, &header)
	if err != nil {
		return 0, err
	}
	h, err := entry.DecodeHeader(header)
	if err != nil || !found {
		return 0, fmt.Errorf("entry %v: %w", at, ErrCorrupt)
	}
	return h.Lamport, nil
}

func (m *memory) loadPairs(q querier) error {
	from, to := keysOf(entry.KindSameAs)
	err := q.records(func(r stored) error {
		if pair, ok := merge.ReadPair(r.Record); ok {
			m.pairs[r.ID] = pair
		}
		return nil
	}, "WHERE r.state IS NOT NULL AND r.n BETWEEN ? AND ?", from, to)
	m.join()
	return m.foldAgainIf(err)
}

func (m *memory) loadRetired(q querier) error {
	err := q.records(func(r stored) error {
		m.retired[r.ID] = headsOf(r.Record)
		return nil
	}, "WHERE r.state IS NOT NULL AND r.retirements > 0")
	m.named = m.limitsNamed()
	return m.foldAgainIf(err)
}

// foldAgainIf lets a state that can't be read be folded again: the entries
// have it all.
func (m *memory) foldAgainIf(err error) error {
	if errors.Is(err, ErrCorrupt) {
		m.fold.behind, m.unreadable = true, err
		return nil
	}
	return err
}

// headsOf returns the heads that a record's retirements name.
func headsOf(r *merge.Record) (heads []entry.ID) {
	for _, t := range r.Retirements {
		heads = append(heads, t.Heads...)
	}
	return heads
}

func (m *memory) loadAwaited(q querier) error {
	for _, c := range m.controls {
		if c.Body.Cut != nil {
			if err := m.await(q.hashAt, "", c.Body.Cut.Heads); err != nil {
				return err
			}
		}
	}
	for id, heads := range m.retired {
		if err := m.await(q.hashAt, id, heads); err != nil {
			return err
		}
	}
	return nil
}

// await notes which heads aren't held.
func (m *memory) await(at hashes, who entry.RecordID, heads []entry.ID) error {
	for _, h := range heads {
		_, held, err := m.locate(at, h)
		if err != nil {
			return err
		}
		if !held {
			m.awaited[h] = append(m.awaited[h], who)
		}
	}
	return nil
}

func (m *memory) loadAside(q querier) error {
	for n, b := range m.branches {
		if err := m.measureAside(q, merge.Branch(n), b); err != nil {
			return err
		}
	}
	return nil
}

// measureAside sets how much of a branch counts as set aside.
func (m *memory) measureAside(q querier, n merge.Branch, b *branch) error {
	b.free, b.aside = m.freeOf(b), 0
	if b.tip.Seq <= b.free {
		return nil
	}
	first := keyOf(merge.Place{Branch: n, Seq: max(b.free, b.fork) + 1})
	last := keyOf(merge.Place{Branch: n, Seq: b.tip.Seq})
	_, err := q.one("SELECT coalesce(sum(length(header) + length(body)), 0) FROM entry WHERE n BETWEEN ? AND ?",
		[]any{first, last}, &b.aside)
	return err
}

// stored is a record as a row holds it.
type stored struct {
	n recordKey
	Row
}

// records reads records, whose state must not be NULL.
func (q querier) records(each func(stored) error, where string, args ...any) error {
	var r stored
	var id, state, log []byte
	var e entryRow
	// There are very many rows: all of them are read into the same.
	into := append([]any{&r.n, &id, &state, &r.Info.Lamport, &r.Info.Conflicts, &r.Info.Visibility, &log}, e.columns()...)
	return q(func(scan func(...any) error) error {
		err := scan(into...)
		if err == nil {
			err = r.read(entry.RecordID(id), state, e, log)
		}
		if err != nil {
			return fmt.Errorf("%w (%w)", ErrCorrupt, err)
		}
		return each(r)
	}, "SELECT r.n, r.id, r.state, coalesce(r.lamport, 0), r.conflicts, r.visibility, l.id, "+soleEntry+" FROM record r"+sole+
		"LEFT JOIN branch b ON b.n = e.n >> 40 LEFT JOIN log l ON l.n = b.log "+where, args...)
}

func (r *stored) read(id entry.RecordID, state []byte, e entryRow, log []byte) (err error) {
	if e.n == 0 {
		r.Record, err = merge.Decode(id, state)
		return err
	}
	if len(log) != len(entry.LogID{}) {
		return fmt.Errorf("entry %v: of no log", e.n.place())
	}
	w, err := e.write(entry.LogID(log))
	r.Record, r.Info.Lamport = &merge.Record{ID: id}, w.Lamport
	r.Record.Apply(w)
	return err
}

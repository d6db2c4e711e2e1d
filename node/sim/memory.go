package sim

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// memory is a store on a [journal]: the plainest holdings, and the plainest
// laptop that folds them with package merge.
type memory struct {
	*exchange.Memory
	journal *journal
	staff   entry.StaffID
	lap     *mergetest.Laptop
	lamport uint64
	meta    map[string][]byte
}

func newMemory(j *journal, world *mergetest.World) *memory {
	return &memory{Memory: exchange.NewMemory(world.Staff), journal: j, staff: world.Staff, lap: world.Read(), meta: map[string][]byte{}}
}

// Append implements [node.Ledger].
func (m *memory) Append(ctx context.Context, runs ...entry.Run) (storage.Outcome, error) {
	if err := ctx.Err(); err != nil {
		return storage.Outcome{}, err
	}
	refused := m.journal.faults.fails("append")
	news, err := m.missing(runs)
	if refused != nil {
		if errors.Is(refused, storage.ErrUnsynced) && err == nil && len(news) > 0 {
			m.journal.leave(transaction{runs: news})
		}
		return storage.Outcome{}, refused
	}
	if err != nil || len(news) == 0 {
		return storage.Outcome{}, err
	}
	m.journal.write(transaction{runs: news})
	before := m.lap.Verdict
	tips, facts, err := m.take(news)
	if err != nil {
		return storage.Outcome{}, err
	}
	m.lap.Learn(facts...)
	return m.outcome(before, tips, facts), nil
}

// missing returns what isn't held of the runs, and refuses all of them if one
// doesn't attach.
func (m *memory) missing(runs []entry.Run) ([]entry.Run, error) {
	coming := map[place]bool{}
	var news []entry.Run
	for _, run := range runs {
		run = exchange.Missing(m.Memory, run)
		if len(run.Entries) == 0 {
			continue
		}
		if run.After.Seq > 0 && !m.Holds(run.Log, run.After) && !coming[place{run.Log, run.After}] {
			return nil, fmt.Errorf("log %s, entry %d: %w", run.Log, run.After.Seq, storage.ErrDetached)
		}
		if run.After.Seq == 0 && run.After.Hash != entry.Origin(m.staff) {
			return nil, fmt.Errorf("log %s: %w", run.Log, storage.ErrOtherStaff)
		}
		for _, e := range run.Entries {
			coming[place{run.Log, e.Point}] = true
		}
		news = append(news, run)
	}
	return news, nil
}

// take holds runs, without folding them yet.
func (m *memory) take(runs []entry.Run) (tips []exchange.Tip, facts []*mergetest.Fact, err error) {
	for _, run := range runs {
		run = exchange.Missing(m.Memory, run)
		grown, err := m.Memory.Append(run)
		if err != nil {
			return nil, nil, err
		}
		tips = append(tips, grown...)
		for _, e := range run.Entries {
			facts = append(facts, m.journal.written.facts[place{run.Log, e.Point}])
			m.lamport = max(m.lamport, e.Header.Lamport)
		}
	}
	return tips, facts, nil
}

func (m *memory) outcome(before *merge.Verdict, tips []exchange.Tip, facts []*mergetest.Fact) storage.Outcome {
	o := storage.Outcome{Added: len(facts), Tips: tips}
	touched := map[entry.RecordID]bool{}
	for _, f := range facts {
		o.Control = o.Control || f.Prev == nil || f.First.Says.Genesis.Control
		if f.Header.Record != "" {
			touched[f.Header.Record] = true
		}
		if f.Prev != nil && len(m.journal.written.at[seat{f.ID.Log, f.Seq}]) > 1 {
			o.Forked = append(o.Forked, f.ID.Log)
		}
	}
	o.Touched = slices.Sorted(maps.Keys(touched))
	return o
}

// Lamport implements [node.Ledger].
func (m *memory) Lamport() uint64 { return m.lamport }

// Range implements [exchange.Holdings].
func (m *memory) Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error) {
	if err := m.journal.faults.failsReading("read entries"); err != nil {
		return nil, nil, err
	}
	return m.Memory.Range(log, after, upto, max)
}

// Meta implements [node.Inside].
func (m *memory) Meta(_ context.Context, key string) ([]byte, error) { return m.meta[key], nil }

// SetMeta implements [node.Inside].
func (m *memory) SetMeta(_ context.Context, key string, value []byte) error {
	if err := m.journal.faults.fails("store " + key); err != nil {
		if errors.Is(err, storage.ErrUnsynced) {
			m.journal.leave(transaction{key: key, value: value})
		}
		return err
	}
	m.journal.write(transaction{key: key, value: value})
	m.meta[key] = value
	return nil
}

// Branches implements [node.Inside].
func (m *memory) Branches() []storage.BranchInfo {
	var infos []storage.BranchInfo
	seen := map[entry.LogID]bool{}
	for n, tip := range m.lap.Tips() {
		log, genesis := tip.ID.Log, tip.First.Says.Genesis
		infos = append(infos, storage.BranchInfo{
			Branch: merge.Branch(n), Log: log, Device: entry.DeviceOf(genesis.Device), Key: genesis.Device,
			Control: genesis.Control, Forked: seen[log], Tip: tip.Point, Lamport: tip.Header.Lamport,
			Standing: m.lap.Verdict.Standing(log), Span: m.lap.Span(merge.Branch(n)),
		})
		seen[log] = true
	}
	return infos
}

// Verdict and the others below implement [Store].
func (m *memory) Verdict() *merge.Verdict { return m.lap.Verdict }

func (m *memory) Groups() *merge.Groups { return m.lap.Groups() }

func (m *memory) StateHash() merge.StateHash { return m.lap.Hash }

func (m *memory) Blocked() bool { return len(m.lap.Verdict.Newer) > 0 }

func (m *memory) Record(_ context.Context, id entry.RecordID) (storage.Row, error) {
	r := m.lap.Records[id]
	if r == nil || !slices.ContainsFunc(r.Registers, func(reg *merge.Register) bool { return len(reg.Live) > 0 }) {
		return storage.Row{}, fmt.Errorf("record %s: %w", id, storage.ErrNoRecord)
	}
	return storage.Row{Record: r, Info: storage.Info{Visibility: m.lap.Visibility(id), Conflicts: len(r.Conflicts())}}, nil
}

func (m *memory) Heads(_ context.Context, ids ...entry.RecordID) (entry.Retirement, error) {
	heads := m.lap.Heads(ids...)
	if len(heads.Heads) == 0 {
		return heads, fmt.Errorf("records %v: %w", ids, storage.ErrNoRecord)
	}
	return heads, nil
}

// Locate, Unread and SetAside implement [Store].
func (m *memory) Locate(_ context.Context, id entry.ID) (merge.Place, bool, error) {
	at, held := m.lap.Place(id)
	return at, held, nil
}

func (m *memory) Unread(_ context.Context, read entry.Retirement, ids ...entry.RecordID) ([]storage.HistoryEntry, error) {
	return m.asRead(m.lap.Unread(read, ids...)), nil
}

func (m *memory) SetAside(context.Context, int) ([]storage.HistoryEntry, error) {
	return m.asRead(slices.DeleteFunc(slices.Clone(m.lap.Held), func(f *mergetest.Fact) bool {
		return m.lap.Status[f.ID] == merge.Applied
	})), nil
}

// asRead is how a database answers with entries.
func (m *memory) asRead(facts []*mergetest.Fact) (list []storage.HistoryEntry) {
	for _, f := range facts {
		at, _ := m.lap.Place(f.ID)
		list = append(list, storage.HistoryEntry{Entry: f.Entry, ID: f.ID, Place: at, Status: m.lap.Status[f.ID], Body: f.Says})
	}
	return list
}

func (m *memory) Close() error {
	m.journal.forget()
	return nil
}

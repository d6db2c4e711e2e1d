package sim

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
	"plumbline/sync/merge/mergetest"
)

// disks makes one of each sort, empty.
func disks(t testing.TB, w *written) map[string]func() Disk {
	f := &folders{parent: fastFolder(t)}
	return map[string]func() Disk{
		"memory": func() Disk { return newJournal(w, Counts{}) },
		"database": func() Disk {
			d, err := newDatabase(f, Counts{})
			require.NoError(t, err)
			return d
		},
	}
}

// growing is a store as the exchange's own suite wants it.
type growing struct {
	Store
	written *written
}

func (g growing) Append(run entry.Run) ([]exchange.Tip, error) {
	after := run.After
	for _, e := range run.Entries {
		if g.written.facts[place{run.Log, e.Point}] == nil {
			if _, err := g.written.add(run.Log, after, e); err != nil {
				return nil, err
			}
		}
		after = e.Point
	}
	o, err := g.Store.Append(background, run)
	return o.Tips, err
}

func TestDisksConformToTheExchange(t *testing.T) {
	for name := range disks(t, nil) {
		t.Run(name, func(t *testing.T) {
			exchangetest.Conform(t, func(t *testing.T, s *exchangetest.Staff) exchangetest.Store {
				w := newWritten()
				disk := disks(t, w)[name]()
				store, err := disk.Open(s.ID)
				require.NoError(t, err)
				t.Cleanup(disk.Gone)
				return growing{store, w}
			})
		})
	}
}

// tried is one sort of disk in a trial of both.
type tried struct {
	disk  Disk
	store Store
	acked []place
}

// Random histories go to one disk of each sort, in any order and any batches,
// with the power failing at any moment of writing. What was acknowledged is
// there again, no transaction is there in part, and both come to what the rules
// read out loud come to.
func TestDisksKeepWhatTheyAcknowledge(t *testing.T) {
	w := newWritten()
	made := disks(t, w)
	rapid.Check(t, func(rt *rapid.T) {
		h := mergetest.Draw(rt, 25)
		*w = *newWritten()
		for _, f := range h.Facts {
			var after entry.Point
			if f.Prev != nil {
				after = f.Prev.Point
			}
			_, err := w.add(f.ID.Log, after, f.Entry)
			require.NoError(rt, err)
		}
		arrival := h.Arrival(h.Facts, "arrival")
		batches := batchesOf(rt, h, arrival)
		var heads []string
		for _, name := range []string{"memory", "database"} {
			trial := &tried{disk: made[name]()}
			trial.open(rt, h)
			for _, batch := range batches {
				trial.append(rt, h, batch)
			}
			trial.follows(rt, h, h.Facts)
			heads = append(heads, trial.heads(rt, h))
			trial.disk.Gone()
		}
		require.Equal(rt, heads[0], heads[1])
	})
}

func batchesOf(t *rapid.T, h *mergetest.History, arrival []*mergetest.Fact) (batches [][]entry.Run) {
	for len(arrival) > 0 {
		n := rapid.IntRange(1, len(arrival)).Draw(t, "batch")
		var runs []entry.Run
		for _, f := range arrival[:n] {
			run := entry.Run{Log: f.ID.Log, After: entry.Point{Hash: entry.Origin(h.Staff)}, Entries: []entry.Entry{f.Entry}}
			if f.Prev != nil {
				run.After, run.Lamport = f.Prev.Point, f.Prev.Header.Lamport
			}
			run.Points = []entry.SignedPoint{entry.SignPoint(f.By.Key, h.Staff, f.ID.Log, f.Point)}
			runs = append(runs, run)
		}
		batches, arrival = append(batches, runs), arrival[n:]
	}
	return batches
}

func (d *tried) open(t *rapid.T, h *mergetest.History) {
	store, err := d.disk.Open(h.Staff)
	require.NoError(t, err)
	d.store = store
	for _, at := range d.acked {
		require.Truef(t, d.store.Holds(at.log, at.Point), "%s was acknowledged and is lost", at.id())
	}
}

// append stores a batch, over as many losses of power as it takes.
func (d *tried) append(t *rapid.T, h *mergetest.History, batch []entry.Run) {
	d.disk.Faults().crash = rapid.IntRange(0, 6).Draw(t, "crash")
	if rapid.IntRange(0, 4).Draw(t, "fails") == 0 {
		d.disk.Faults().failing, d.disk.Faults().kind = 1, rapid.SampledFrom(diskErrors).Draw(t, "kind")
		d.disk.Faults().late = rapid.Bool().Draw(t, "late")
	}
	for {
		before := d.count()
		err := d.attempt(batch)
		switch {
		case err == nil:
			for _, run := range batch {
				d.acked = append(d.acked, place{run.Log, run.Tip()})
			}
			return
		case errors.Is(err, errPower):
			require.NoError(t, d.disk.Die(newDice(rapid.Uint64().Draw(t, "cut"), 1)))
			d.open(t, h)
			if d.count() != before {
				require.Zero(t, d.missing(batch), "a transaction is there in part")
			}
		default:
			require.True(t, injected(err), err)
			require.Equal(t, before, d.count(), "a transaction that failed left something")
		}
	}
}

// missing counts what isn't held of a batch.
func (d *tried) missing(batch []entry.Run) (n int) {
	for _, run := range batch {
		if !d.store.Holds(run.Log, run.Tip()) {
			n++
		}
	}
	return n
}

var errPower = errors.New("the power failed")

func (d *tried) attempt(batch []entry.Run) (err error) {
	defer func() {
		if cause := recover(); cause == (died{}) {
			err = errPower
		} else if cause != nil {
			panic(cause)
		}
	}()
	_, err = d.store.Append(background, batch...)
	return err
}

func (d *tried) count() (n int) {
	for _, b := range d.store.Branches() {
		n += int(b.Tip.Seq)
	}
	return n
}

// follows holds a store against the rules read out loud.
func (d *tried) follows(t *rapid.T, h *mergetest.History, facts []*mergetest.Fact) {
	m := mergetest.NewModel(h.World, facts)
	require.Equal(t, m.Newer(), d.store.Blocked())
	if m.Newer() {
		return
	}
	lap := h.Read(facts...)
	require.Equal(t, lap.Outcome(h.Records), m.Outcome(h.Records))
	require.Equal(t, lap.Hash, d.store.StateHash())
	aside, err := d.store.SetAside(background, 0)
	require.NoError(t, err)
	for _, e := range aside {
		require.Equal(t, lap.Status[e.ID], e.Status)
		delete(lap.Status, e.ID)
	}
	for id, status := range lap.Status {
		require.EqualValues(t, 1, status, id)
	}
	for _, id := range h.Records {
		row, err := d.store.Record(background, id)
		if errors.Is(err, storage.ErrNoRecord) {
			continue
		}
		require.NoError(t, err)
		require.Equal(t, lap.Record(id).Encode(), row.Encode())
		require.Equal(t, lap.Visibility(id), row.Info.Visibility)
	}
}

// heads writes down what retirements by this laptop would carry, what somebody
// hasn't read who read half of that, and how much of each branch counts; nothing
// while folding is stopped.
func (d *tried) heads(t *rapid.T, h *mergetest.History) (text string) {
	if d.store.Blocked() {
		return ""
	}
	for _, id := range h.Records {
		r, err := d.store.Heads(background, id)
		if errors.Is(err, storage.ErrNoRecord) || len(r.Heads) == 0 {
			continue
		}
		require.NoError(t, err)
		slices.SortFunc(r.Heads, entry.ID.Compare)
		slices.SortFunc(r.SetAside, entry.ID.Compare)
		text += fmt.Sprintf("%s %v %v\n", id, r.Heads, r.SetAside)
		r.Heads = r.Heads[:len(r.Heads)/2]
		unread, err := d.store.Unread(background, r, id)
		require.NoError(t, err)
		text += fmt.Sprintf("beyond half of them %v\n", names(unread))
	}
	var branches []string
	for _, b := range d.store.Branches() {
		branches = append(branches, fmt.Sprintf("%s %x %v", b.Log, b.Tip.Hash, b.Span))
	}
	slices.Sort(branches)
	return text + strings.Join(branches, "\n")
}

func names(entries []storage.HistoryEntry) (ids []string) {
	for _, e := range entries {
		ids = append(ids, e.ID.String())
	}
	slices.Sort(ids)
	return ids
}

// What lies beside the entries is durable too, and what is secret is in no backup.
func TestDisksKeepWhatLiesBesideTheEntries(t *testing.T) {
	staff := entry.StaffID{1}
	for name, make := range disks(t, newWritten()) {
		t.Run(name, func(t *testing.T) {
			disk := make()
			defer disk.Gone()
			store, err := disk.Open(staff)
			require.NoError(t, err)
			require.NoError(t, store.SetMeta(background, storage.Secret+"token", []byte("half")))
			require.NoError(t, store.SetMeta(background, "port", []byte("1")))
			backup, err := disk.Backup()
			require.NoError(t, err)
			defer backup.Gone()
			require.NoError(t, disk.Die(newDice(1, 1)))
			copied, err := disk.Copy()
			require.NoError(t, err)
			defer copied.Gone()
			for what, want := range map[Disk]string{disk: "half1", copied: "half1", backup: "1"} {
				again, err := what.Open(staff)
				require.NoError(t, err)
				secret, err := again.Meta(background, storage.Secret+"token")
				require.NoError(t, err)
				port, err := again.Meta(background, "port")
				require.NoError(t, err)
				require.Equal(t, want, string(secret)+string(port))
			}
		})
	}
}

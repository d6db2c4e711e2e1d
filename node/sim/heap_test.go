package sim

import (
	"fmt"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// heap is what is in use after everything unused has gone.
func heap() int64 {
	runtime.GC()
	runtime.GC() // what the first one found may hold more
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// What a laptop keeps in memory grows with logs and control entries, not with
// entries: after 20,000 of them were written on one laptop and pulled by another,
// both running and linked, next to nothing is left once they rest.
func TestEntriesLeaveTheMemory(t *testing.T) {
	const batches, each = 10, 2000
	w := newWorld(Plan{Laptops: 2, Databases: []bool{true, true}}, Options{Folder: fastFolder(t)})
	w.found()
	t.Cleanup(func() {
		for _, l := range w.laptops {
			l.disk.Gone()
		}
	})
	author, reader := w.laptops[0], w.laptops[1]
	w.connect(author, reader)
	d := newDice(1, 1)
	for w.deliver(d) {
	}
	before := heap()
	name := record.Must(record.Prospect, "name")
	for batch := range batches {
		var drafts []node.Draft
		for n := range each {
			value, err := name.Parse(fmt.Sprintf("Orrin Vale %d", batch*each+n))
			require.NoError(t, err)
			drafts = append(drafts, node.Draft{
				Record: entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, [16]byte{1, byte(batch), byte(n), byte(n >> 8)}),
				Body:   changes(entry.Change{Register: name.Address(), Op: value.Op, Value: value.Bytes}),
			})
		}
		require.NoError(t, author.step(node.Save{Drafts: drafts}).Err)
		for w.deliver(d) {
		}
	}
	require.Nil(t, w.failure)
	require.Equal(t, author.set, reader.set)
	require.Greater(t, len(reader.held), batches*each)
	// What the simulator itself has noted.
	w.written = newWritten()
	for _, l := range w.laptops {
		l.held, l.promised = nil, nil
		o, _ := l.database()
		require.NoError(t, o.Rest())
	}
	grown := heap() - before
	t.Logf("%d KiB more for %d entries", grown>>10, batches*each)
	require.Less(t, grown, int64(8<<20), "bytes in use")
	runtime.KeepAlive(w)
}

// A run leaves nothing behind.
func TestRunsLeaveTheMemory(t *testing.T) {
	folder := fastFolder(t)
	run := func(from, to uint64) {
		for seed := from; seed < to; seed++ {
			require.Nil(t, Run(Draw(seed), Options{Folder: folder}).Failure)
		}
	}
	run(1000, 1020)
	before := heap()
	run(1020, 1080)
	require.Less(t, heap()-before, int64(4<<20), "bytes in use")
}

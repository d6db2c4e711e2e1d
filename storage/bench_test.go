package storage

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// What is measured is reported as a ratio to what SQLite itself takes for the
// same rows in the same run: the rest of the machine is in both.
const (
	benchEntries = 100_000
	benchLogs    = 8
	benchBatch   = 16_000 // entries in a transaction, as in a catch-up
	benchRun     = 1_000  // entries in a run, with one signature
)

// chart writes 100,000 entries of about 230 bytes into logs, in runs: reps that
// refer to one of 200 others, each written and then edited twice.
func chart(b *testing.B, logs int) (*mergetest.World, [][]entry.Run) {
	w := newWorld(1)
	lines := make([]*mergetest.Line, logs)
	for i := range lines {
		lines[i] = w.Scout(w.Root, 2)
	}
	setup := len(w.Facts)
	size := 0
	for i := range benchEntries {
		l := lines[i/min(benchRun, benchEntries/logs)%logs]
		f := l.Write(rep(l, i/3), benchChanges(l, i)...)
		size += f.Size()
	}
	b.Logf("%d entries of %d bytes", benchEntries, size/benchEntries)
	batches := [][]entry.Run{runs(w, w.Facts[:setup], always)}
	for from := setup; from < len(w.Facts); from += benchBatch {
		batches = append(batches, runs(w, w.Facts[from:min(from+benchBatch, len(w.Facts))], func() bool { return false }))
	}
	w.Facts = nil // a laptop that catches up doesn't hold all of it in memory
	return w, batches
}

// rep names a record as laptops do: at random, for what that costs an index.
func rep(l *mergetest.Line, n int) entry.RecordID {
	return entry.NewRecordID(entry.Owned, mergetest.KindRep, l.Device.Person, entry.KeyedUnique([32]byte{1}, "", strconv.Itoa(n)))
}

func benchChanges(l *mergetest.Line, i int) []entry.Change {
	if i%3 > 0 {
		last := l.At
		return []entry.Change{value(uint32(1+i%3), "third set", last), value(4, "4.52"), value(5, "hand timed, second clock agrees to the hundredth, wind at the back")}
	}
	return []entry.Change{
		refer(9, prospect(byte(i/3%200))), value(2, "second"), value(3, "left"), value(4, "4.6"), value(6, "won the edge with the inside hand, kept his feet, lost the ball late"),
	}
}

// bare inserts the rows of the entries and nothing else.
func bare(b *testing.B, path string, w *mergetest.World, batches [][]entry.Run) time.Duration {
	c, err := openConnection(context.Background(), path, writerPragmas, false)
	if err != nil {
		b.Fatal(err)
	}
	defer c.close()
	err = c.plain(`CREATE TABLE entry (n INTEGER PRIMARY KEY, hash BLOB NOT NULL, record INTEGER, status INTEGER NOT NULL,
		kind INTEGER NOT NULL, lamport INTEGER NOT NULL, header BLOB NOT NULL, body BLOB NOT NULL)`)
	if err != nil {
		b.Fatal(err)
	}
	logs := map[entry.LogID]entryKey{}
	start := time.Now()
	for _, batch := range batches {
		err := c.transact(func() error {
			for _, run := range batch {
				if _, ok := logs[run.Log]; !ok {
					logs[run.Log] = entryKey(len(logs)) << shift
				}
				for _, e := range run.Entries {
					err := c.exec(`INSERT INTO entry (n, hash, record, status, kind, lamport, header, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
						logs[run.Log]|entryKey(e.Seq), e.Hash[:], 1<<40, 1, 2, e.Header.Lamport, e.Raw.Header, e.Body)
					if err != nil {
						return err
					}
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return time.Since(start)
}

func verifyAll(b *testing.B, w *mergetest.World, batches [][]entry.Run) time.Duration {
	devices := map[entry.LogID][]byte{}
	for _, run := range batches[0] {
		if run.After.Seq == 0 {
			devices[run.Log] = readBody(run.Entries[0].Body).Genesis.Device
		}
	}
	start := time.Now()
	for _, batch := range batches {
		for _, run := range batch {
			raws := make([]entry.Raw, len(run.Entries))
			for i, e := range run.Entries {
				raws[i] = e.Raw
			}
			src := entry.Source{Staff: w.Staff, Log: run.Log, Device: devices[run.Log], After: run.After, Lamport: run.Lamport}
			if _, err := entry.Verify(src, raws, run.Points); err != nil {
				b.Fatal(err)
			}
		}
	}
	return time.Since(start)
}

// BenchmarkCatchUp stores 100,000 entries, folded and ready to be read, and
// compares with the bare insert of the same rows.
func BenchmarkCatchUp(b *testing.B) {
	w, batches := chart(b, benchLogs)
	var bareTime, appendTime, verifyTime time.Duration
	for b.Loop() {
		dir := b.TempDir()
		bareTime += bare(b, filepath.Join(dir, "bare.db"), w, batches)
		verifyTime += verifyAll(b, w, batches)
		s := openAt(b, filepath.Join(dir, "plumbline.db"), Options{Staff: w.Staff, Projector: projector{}})
		start := time.Now()
		for _, batch := range batches {
			s.append(b, batch...)
		}
		appendTime += time.Since(start)
		s.Close()
	}
	per := func(d time.Duration) float64 { return float64(d.Nanoseconds()) / float64(b.N) / benchEntries }
	b.ReportMetric(per(bareTime), "bare-ns/entry")
	b.ReportMetric(per(verifyTime), "verify-ns/entry")
	b.ReportMetric(per(appendTime), "append-ns/entry")
	b.ReportMetric(float64(appendTime)/float64(bareTime), "append/bare")
	b.ReportMetric(float64(appendTime+verifyTime)/float64(bareTime), "verified/bare")
}

// BenchmarkSave stores one entry at a time, durably, and compares with a bare
// durable commit of the same row.
func BenchmarkSave(b *testing.B) {
	w := newWorld(2)
	l := w.Scout(w.Root, 2)
	s := storeOf(b, w)
	s.append(b, all(w)...)
	c, err := openConnection(context.Background(), filepath.Join(b.TempDir(), "bare.db"), writerPragmas, false)
	if err != nil {
		b.Fatal(err)
	}
	defer c.close()
	if err := c.plain("CREATE TABLE entry (n INTEGER PRIMARY KEY, hash BLOB, header BLOB, body BLOB)"); err != nil {
		b.Fatal(err)
	}
	var saved, committed []time.Duration
	for i := 0; b.Loop(); i++ {
		f := l.Write(rep(l, i/3), benchChanges(l, i)...)
		run := runs(w, []*mergetest.Fact{f}, always)
		start := time.Now()
		s.append(b, run...)
		saved = append(saved, time.Since(start))
		start = time.Now()
		err := c.transact(func() error {
			return c.exec("INSERT INTO entry (n, hash, header, body) VALUES (?, ?, ?, ?)", f.Seq, f.Hash[:], f.Raw.Header, f.Body)
		})
		if err != nil {
			b.Fatal(err)
		}
		committed = append(committed, time.Since(start))
	}
	b.ReportMetric(float64(median(saved).Microseconds()), "append-µs")
	b.ReportMetric(float64(median(committed).Microseconds()), "bare-µs")
	b.ReportMetric(float64(median(saved))/float64(median(committed)), "append/bare")
}

func median(of []time.Duration) time.Duration {
	slices.Sort(of)
	return of[len(of)/2]
}

// BenchmarkGoalOldLogs stores as many entries in a thousand logs as in eight, and
// opens both: old logs cost no more than their size (ledger rule 5).
//
//	go test -run '^$' -bench GoalOldLogs -benchtime 3x ./storage
func BenchmarkGoalOldLogs(b *testing.B) {
	var stored, opened [2]time.Duration
	var size [2]int64
	for range b.N {
		for i, logs := range []int{benchLogs, 1000} {
			w, batches := chart(b, logs)
			path := filepath.Join(b.TempDir(), "plumbline.db")
			s := openAt(b, path, Options{Staff: w.Staff, Projector: projector{}})
			began := time.Now()
			for _, batch := range batches {
				s.append(b, batch...)
			}
			stored[i] += time.Since(began)
			s.Close()
			info, err := os.Stat(path)
			if err != nil {
				b.Fatal(err)
			}
			size[i] += info.Size()
			began = time.Now()
			s = openAt(b, path, Options{Staff: w.Staff, Projector: projector{}})
			opened[i] += time.Since(began)
			s.Close()
		}
	}
	row := func(what string, many, few, ratio float64, unit string) {
		fmt.Printf("| %s | no more than their size | %.1f %s | %.1f %s in %d logs | %.2f × |\n", what, many, unit, few, unit, benchLogs, ratio)
	}
	ms := func(d time.Duration) float64 { return float64(d.Milliseconds()) / float64(b.N) }
	mib := func(n int64) float64 { return float64(n) / (1 << 20) / float64(b.N) }
	row("100000 entries in 1000 logs: stored", ms(stored[1]), ms(stored[0]), float64(stored[1])/float64(stored[0]), "ms")
	row("the same: file", mib(size[1]), mib(size[0]), float64(size[1])/float64(size[0]), "MiB")
	row("the same: opened", ms(opened[1]), ms(opened[0]), float64(opened[1])/float64(opened[0]), "ms")
	b.ReportMetric(0, "ns/op")
}

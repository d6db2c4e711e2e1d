package exchange_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// benchRun is 1,024 entries of about 260 bytes, some of it compressible.
func benchRun() entry.Run {
	return exchangetest.NewStaff(1).Laptop(entry.RoleScout).Open(false).Write(1023, 120).Run()
}

func BenchmarkPack(b *testing.B) {
	run := benchRun()
	entries := raws(run)
	size := 0
	for _, r := range entries {
		size += r.Size()
	}
	b.SetBytes(int64(size))
	packed := 0
	for b.Loop() {
		packed = len(exchange.Pack(entry.Point{}, entries, run.Points))
	}
	perEntry(b, len(entries))
	b.ReportMetric(float64(size)/float64(packed), "ratio")
	b.ReportMetric(float64(size)/float64(len(entries)), "B/entry")
}

func BenchmarkUnpack(b *testing.B) {
	run := benchRun()
	packed := exchange.Pack(entry.Point{}, raws(run), run.Points)
	for b.Loop() {
		if _, _, err := exchange.Unpack(entry.Point{}, packed); err != nil {
			b.Fatal(err)
		}
	}
	perEntry(b, len(run.Entries))
}

// BenchmarkUnpackVerify is what a receiver does with a chunk before it stores
// it.
func BenchmarkUnpackVerify(b *testing.B) {
	run := benchRun()
	packed := exchange.Pack(entry.Point{}, raws(run), run.Points)
	staff := exchangetest.NewStaff(1)
	src := entry.Source{Staff: staff.ID, Log: run.Log, After: entry.Point{Hash: entry.Origin(staff.ID)}}
	for b.Loop() {
		entries, points, err := exchange.Unpack(entry.Point{}, packed)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := entry.Verify(src, entries, points); err != nil {
			b.Fatal(err)
		}
	}
	perEntry(b, len(run.Entries))
}

// BenchmarkPull is a whole pull of 100,000 entries, both sides in one
// goroutine, memory to memory.
func BenchmarkPull(b *testing.B) {
	staff := exchangetest.NewStaff(1)
	source := exchange.NewMemory(staff.ID)
	log := staff.Laptop(entry.RoleScout).Open(false)
	if _, err := source.Append(log.Write(99_999, 120).Run()); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var net exchangetest.Network
		from, to := net.Add(source), net.Add(exchange.NewMemory(staff.ID))
		net.Connect(from, to, exchange.Config{})
		if err := net.Settle(10_000, nil); err != nil {
			b.Fatal(err)
		}
		if !to.Store.Holds(log.Log, log.Tip) {
			b.Fatal("not pulled")
		}
	}
	perEntry(b, 100_000)
}

func perEntry(b *testing.B, entries int) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(entries), "ns/entry")
}

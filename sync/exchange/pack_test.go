package exchange_test

import (
	"bytes"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// Whatever entries are packed come out again byte for byte, also those whose
// body isn't the one that the header names, as after an erasure.
func TestPackedEntriesComeOutAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blob := rapid.SliceOfN(rapid.Byte(), 0, 300)
		var raws []entry.Raw
		log := exchangetest.NewStaff(1).Laptop(entry.RoleScout).Open(false)
		run := log.Write(rapid.IntRange(0, 5).Draw(t, "written"), rapid.IntRange(0, 900).Draw(t, "size")).Run()
		for _, e := range run.Entries {
			raw := e.Raw
			if rapid.Bool().Draw(t, "erased") {
				raw.Body = nil
			}
			raws = append(raws, raw)
		}
		for range rapid.IntRange(0, 4).Draw(t, "others") {
			raws = append(raws, entry.Raw{Header: blob.Draw(t, "header"), Body: blob.Draw(t, "body")})
		}
		after := entry.Point{Seq: rapid.Uint64Range(0, 1<<40).Draw(t, "after")}
		point := entry.SignedPoint{Point: entry.Point{Seq: after.Seq + uint64(len(raws))}, Signature: bytes.Repeat([]byte{7}, 64)}
		got, points, err := exchange.Unpack(after, exchange.Pack(after, raws, []entry.SignedPoint{point}))
		if err != nil {
			t.Fatal(err)
		}
		if len(points) != 1 || points[0].Point != point.Point || !bytes.Equal(points[0].Signature, point.Signature) {
			t.Errorf("points %v, want %v", points, point)
		}
		if !slices.EqualFunc(got, raws, func(a, b entry.Raw) bool { return bytes.Equal(a.Header, b.Header) && bytes.Equal(a.Body, b.Body) }) {
			t.Errorf("entries differ: %v, want %v", got, raws)
		}
	})
}

// Thousands of entries that were each signed as they were written need only a
// few of the signatures, the last one among them.
func TestSignedPointsAreThinned(t *testing.T) {
	log := exchangetest.NewStaff(1).Laptop(entry.RoleScout).Open(false)
	var all entry.Run
	for i := range 900 {
		run := log.Write(1, 100).Run()
		if i == 0 {
			all = run
			continue
		}
		all.Entries = append(all.Entries, run.Entries...)
		all.Points = append(all.Points, run.Points...)
	}
	_, points, err := exchange.Unpack(entry.Point{}, exchange.Pack(entry.Point{}, raws(all), all.Points))
	if err != nil {
		t.Fatal(err)
	}
	if len(points) < 2 || len(points) > 8 || points[len(points)-1].Point != all.Tip() {
		t.Errorf("%d of %d signed points travel", len(points), len(all.Points))
	}
	last, since := uint64(0), 0
	for _, p := range points {
		for _, e := range all.Entries[last:p.Seq] {
			since += e.Size()
		}
		if since > 64<<10 {
			t.Errorf("%d bytes before the point at %d", since, p.Seq)
		}
		last, since = p.Seq, 0
	}
}

// The largest chunk that the limits allow stays within a message.
func TestLargestChunkFitsAMessage(t *testing.T) {
	log := exchangetest.NewStaff(1).Laptop(entry.RoleScout).Open(false)
	memory := exchange.NewMemory(log.Staff)
	for range 60 {
		if _, err := memory.Append(log.Write(50, 0).Run()); err != nil {
			t.Fatal(err)
		}
	}
	raws, points, err := memory.Range(log.Log, entry.Point{}, log.Tip, exchange.MaxChunk)
	if err != nil || len(raws) < 1500 {
		t.Fatalf("%d entries, %v", len(raws), err)
	}
	// Bodies that are gone leave every digest to travel, which no compressor
	// can shorten.
	for i := range raws {
		raws[i].Body = nil
	}
	message := exchange.ChunkMessage(1, log.Log, entry.Point{}, log.Tip, exchange.Pack(entry.Point{}, raws, points))
	if len(message) > exchange.MaxMessage {
		t.Errorf("%d bytes", len(message))
	}
}

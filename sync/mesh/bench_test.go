package mesh

import (
	"context"
	"testing"
)

// From a dial to both ends being told, TLS handshake included.
func BenchmarkLinkUp(b *testing.B) {
	low, high := newWorld(b).pair(b)
	low.start(b)
	high.start(b)
	address := high.Address().String()
	// The limit of handshakes is for strangers; here it would be what is measured.
	high.front.strangers.limiter.SetLimit(1e9)
	high.front.known.limiter.SetLimit(1e9)
	for b.Loop() {
		if err := low.Dial(context.Background(), address); err != nil {
			b.Fatal(err)
		}
		next(b, high.linked)
		link := next(b, low.linked)
		b.StopTimer()
		link.Close("next round")
		next(b, low.unlinked)
		next(b, high.unlinked)
		if len(high.live())+len(low.live()) > 0 {
			b.Fatal("a link is left")
		}
		b.StartTimer()
	}
}

func BenchmarkThroughput256K(b *testing.B) { benchmarkThroughput(b, 256<<10) }
func BenchmarkThroughput1K(b *testing.B)   { benchmarkThroughput(b, 1<<10) }

func benchmarkThroughput(b *testing.B, size int) {
	_, to, link, _ := couple(b)
	data := make([]byte, size)
	b.SetBytes(int64(size))
	done := make(chan struct{})
	b.ResetTimer()
	go func() {
		defer close(done)
		for range b.N {
			<-to.received
		}
	}()
	for range b.N {
		if err := link.Send(context.Background(), data); err != nil {
			b.Fatal(err)
		}
	}
	<-done
}

// A message there and one back.
func BenchmarkRoundTrip(b *testing.B) {
	from, to, there, back := couple(b)
	for b.Loop() {
		if err := there.Send(context.Background(), []byte("ping")); err != nil {
			b.Fatal(err)
		}
		<-to.received
		if err := back.Send(context.Background(), []byte("pong")); err != nil {
			b.Fatal(err)
		}
		<-from.received
	}
}

func BenchmarkBeaconOpen(b *testing.B) {
	w := newWorld(b)
	packet, err := sealBeacon(w.laptop(b).config, w.key, DefaultPort, beaconPlace)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, ok := openBeacon(w.staff, [][32]byte{w.key}, packet); !ok {
			b.Fatal("not opened")
		}
	}
}

package exchange_test

import (
	"reflect"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// FuzzReceive throws a message at a session in the middle of its work. It
// must not panic, hand out anything larger than a message may be, or have
// anything stored that wasn't written.
func FuzzReceive(f *testing.F) {
	staff := exchangetest.NewStaff(3)
	log := staff.Laptop(entry.RoleScout).Open(false)
	held := log.Write(5, 40).Run()
	offered := log.Write(5, 40).Run()
	tip := exchange.Tip{Log: log.Log, Point: offered.Tip()}
	f.Add(exchange.HaveMessage(true, true, tip))
	f.Add(exchange.WantMessage(7, log.Log, held.Tip(), held.Entries[2].Point))
	f.Add(exchange.ChunkMessage(1, log.Log, offered.After, offered.Tip(), exchange.Pack(offered.After, raws(offered), offered.Points)))
	f.Add(exchange.ChunkMessage(0, log.Log, entry.Point{}, held.Tip(), exchange.Pack(entry.Point{}, raws(held), held.Points)))
	f.Add([]byte{4, 1})
	f.Add([]byte{exchange.KindLinkKeys})
	f.Fuzz(func(t *testing.T, message []byte) {
		memory := exchange.NewMemory(staff.ID)
		if _, err := memory.Append(held); err != nil {
			t.Fatal(err)
		}
		s := exchange.New(exchange.Config{Holdings: memory})
		s.Open()
		s.Receive(exchange.HaveMessage(true, true, tip))
		for _, a := range s.Receive(message) {
			switch a := a.(type) {
			case exchange.Send:
				if len(a.Message) > exchange.MaxMessage {
					t.Errorf("answers with %d bytes", len(a.Message))
				}
			case exchange.Store:
				for _, e := range a.Run.Entries {
					if at := e.Seq - held.Tip().Seq - 1; at >= 5 || offered.Entries[at].Point != e.Point {
						t.Errorf("stores entry %d, which nobody wrote", e.Seq)
					}
				}
			}
		}
	})
}

// FuzzUnpack takes the inside of a chunk, compressed as it travels, and the
// compressed bytes as they are. Nothing comes out that is larger than a chunk.
func FuzzUnpack(f *testing.F) {
	run := exchangetest.NewStaff(3).Laptop(entry.RoleScout).Open(false).Write(3, 40).Run()
	packed := exchange.Pack(run.After, raws(run), run.Points)
	f.Add([]byte{0, 0}, packed)
	f.Add([]byte{1, 2, 7, 1, 8, 0}, packed[:len(packed)/2])
	f.Fuzz(func(t *testing.T, plain, packed []byte) {
		for _, data := range [][]byte{packed, exchange.Compress(plain)} {
			entries, points, err := exchange.Unpack(run.After, data)
			size := 0
			for _, e := range entries {
				size += e.Size()
			}
			if size > exchange.MaxChunk || err != nil && len(entries)+len(points) > 0 {
				t.Errorf("%d entries of %d bytes, %d points, %v", len(entries), size, len(points), err)
			}
		}
	})
}

// FuzzMessage reads a message: what is understood is written as it was.
func FuzzMessage(f *testing.F) {
	log := exchangetest.NewStaff(3).Laptop(entry.RoleScout).Open(false)
	at := log.Write(2, 40).Run().Tip()
	f.Add(exchange.HaveMessage(true, false, exchange.Tip{Log: log.Log, Point: at, Control: true}))
	f.Add(exchange.WantMessage(7, log.Log, at, at))
	f.Add(exchange.ChunkMessage(9, log.Log, at, at, []byte("packed")))
	f.Fuzz(func(t *testing.T, message []byte) {
		m, err := exchange.Decode(message)
		if err != nil || m == nil {
			return
		}
		written := m.(interface{ Encoded() []byte }).Encoded()
		if again, err := exchange.Decode(written); err != nil || !reflect.DeepEqual(again, m) {
			t.Errorf("%+v, written and read again %+v, %v", m, again, err)
		}
	})
}

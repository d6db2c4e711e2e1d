package exchange_test

import (
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

package exchange_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// lone is one session whose peer is played by the test.
type lone struct {
	*exchange.Session
	t      *testing.T
	memory *exchange.Memory
	staff  *exchangetest.Staff
}

func newLone(t *testing.T, config exchange.Config) *lone {
	staff := exchangetest.NewStaff(3)
	l := &lone{t: t, staff: staff, memory: exchange.NewMemory(staff.ID)}
	config.Holdings = l.memory
	l.Session = exchange.New(config)
	l.Open()
	return l
}

// sent returns the messages of one kind among actions.
func sent[M any](t *testing.T, actions []exchange.Action) []M {
	var found []M
	for _, a := range actions {
		if send, is := a.(exchange.Send); is {
			if m, is := decoded(t, send.Message).(M); is {
				found = append(found, m)
			}
		}
	}
	return found
}

func of[A exchange.Action](actions []exchange.Action) []A {
	var found []A
	for _, a := range actions {
		if a, is := a.(A); is {
			found = append(found, a)
		}
	}
	return found
}

func raws(run entry.Run) []entry.Raw {
	var raws []entry.Raw
	for _, e := range run.Entries {
		raws = append(raws, e.Raw)
	}
	return raws
}

// announce lets the peer tell of a run's log, and returns the want for it.
func (l *lone) announce(run entry.Run) exchange.Want {
	l.t.Helper()
	wants := sent[exchange.Want](l.t, l.Receive(exchange.HaveMessage(true, true, exchange.Tip{Log: run.Log, Point: run.Tip()})))
	if len(wants) != 1 || wants[0].Log() != run.Log || wants[0].Target() != run.Tip() {
		l.t.Fatalf("wants %v for one tip", wants)
	}
	return wants[0]
}

func TestMalformedMessagesEndTheLink(t *testing.T) {
	run := exchangetest.NewStaff(3).Control.Run()
	tip := exchange.Tip{Log: run.Log, Point: run.Tip(), Control: true}
	have := exchange.HaveMessage(true, false, tip)
	want := exchange.WantMessage(1, run.Log, run.Tip(), run.Tip())
	tests := map[string][]byte{
		"nothing":                {},
		"have, cut short":        have[:len(have)-1],
		"have, with more behind": append(slices.Clone(have), 0),
		"have of a forged count": binary.AppendUvarint([]byte{1, 0}, 1<<40),
		"have of no entry":       exchange.HaveMessage(true, true, exchange.Tip{Log: run.Log}),
		"want, cut short":        want[:len(want)-1],
		"want of many points":    exchange.WantMessage(1, run.Log, run.Tip(), make([]entry.Point, 1000)...),
		"chunk, cut short":       {3, 0, 1},
		"decline, cut short":     {4, 9},
		"too large":              bytes.Repeat([]byte{9}, exchange.MaxMessage+1),
	}
	for name, message := range tests {
		t.Run(name, func(t *testing.T) {
			l := newLone(t, exchange.Config{})
			fails := of[exchange.Fail](l.Receive(message))
			if name == "nothing" { // the one byte string without a kind
				if len(fails) != 1 {
					t.Fatal("an empty message passed")
				}
				return
			}
			if len(fails) != 1 || !errors.Is(fails[0].Err, exchange.ErrMalformed) {
				t.Fatalf("%v, want a failure with ErrMalformed", fails)
			}
			if more := l.Receive(have); len(more) != 0 {
				t.Errorf("a session that failed goes on: %v", more)
			}
		})
	}
}

func TestUnknownKindsAreIgnored(t *testing.T) {
	l := newLone(t, exchange.Config{})
	for kind := range 256 {
		if kind >= 1 && kind <= 4 {
			continue
		}
		if actions := l.Receive([]byte{byte(kind), 1, 2, 3}); len(actions) != 0 {
			t.Errorf("kind %d: %v, want nothing", kind, actions)
		}
	}
}

func TestTooManyTipsEndTheLink(t *testing.T) {
	l := newLone(t, exchange.Config{MaxTips: 100})
	var tips []exchange.Tip
	for i := range 101 {
		tip := exchange.Tip{Point: entry.Point{Seq: 5}}
		tip.Log[0] = byte(i)
		tips = append(tips, tip)
	}
	if fails := of[exchange.Fail](l.Receive(exchange.HaveMessage(true, true, tips...))); len(fails) != 1 || !errors.Is(fails[0].Err, exchange.ErrTooMany) {
		t.Errorf("%v, want ErrTooMany", fails)
	}
}

func TestDamagedChunksAreRefused(t *testing.T) {
	log := exchangetest.NewStaff(3).Laptop(entry.RoleScout).Open(false)
	run := log.Write(9, 100).Run()
	other := log.Write(2, 100).Run()
	newer := run
	newer.Entries = slices.Clone(run.Entries)
	newer.Entries[4].Raw.Header = append([]byte{2}, newer.Entries[4].Raw.Header[1:]...)
	start := entry.Point{}
	tests := map[string]struct {
		after, upto entry.Point
		packed      []byte
		err         error
	}{
		"not compressed":     {start, run.Tip(), []byte("plain"), exchange.ErrMalformed},
		"no entries":         {start, run.Tip(), exchange.Compress([]byte{0, 0}), exchange.ErrAstray},
		"a forged count":     {start, run.Tip(), exchange.Compress(binary.AppendUvarint(nil, 1<<50)), exchange.ErrMalformed},
		"a bomb of zeros":    {start, run.Tip(), exchange.Compress(make([]byte, 64<<20)), exchange.ErrMalformed},
		"unsigned":           {start, run.Tip(), exchange.Pack(start, raws(run), nil), entry.ErrUnsigned},
		"not to the end":     {start, run.Entries[7].Point, exchange.Pack(start, raws(run), run.Points), exchange.ErrAstray},
		"from the middle":    {run.Entries[3].Point, run.Tip(), exchange.Pack(run.Entries[3].Point, raws(run)[4:], run.Points), exchange.ErrAstray},
		"another log's end":  {start, run.Tip(), exchange.Pack(start, raws(other), other.Points), entry.ErrMalformed},
		"of a newer version": {start, run.Tip(), exchange.Pack(start, raws(newer), run.Points), entry.ErrMalformed},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			l := newLone(t, exchange.Config{})
			l.staff.Laptop(entry.RoleScout).Open(false) // the one that wrote the run
			want := l.announce(run)
			actions := l.Receive(exchange.ChunkMessage(want.Number(), run.Log, test.after, test.upto, test.packed))
			refused := of[exchange.Refuse](actions)
			if len(refused) != 1 || !errors.Is(refused[0].Err, test.err) || refused[0].Tip.Point != run.Tip() {
				t.Fatalf("%v, want one refusal with %v", actions, test.err)
			}
			if len(of[exchange.Store](actions))+len(of[exchange.Fail](actions)) > 0 || l.Waiting() {
				t.Errorf("%v: stored or failed, waiting %v", actions, l.Waiting())
			}
			if declined := sent[exchange.Decline](t, actions); len(declined) != 1 || declined[0].Tips()[0].Point != run.Tip() {
				t.Errorf("the peer was told %v", declined)
			}
			// The log stays refused, another one doesn't.
			if wants := sent[exchange.Want](t, l.Receive(exchange.HaveMessage(true, true, exchange.Tip{Log: run.Log, Point: other.Tip()}))); len(wants) != 0 {
				t.Errorf("asked again for a log that doesn't hold: %v", wants)
			}
			l.announce(l.staff.Laptop(entry.RoleScout).Open(false).Run())
		})
	}
}

// Whichever bit of a chunk turns over: nothing is stored that its author
// didn't write.
func TestFlippedBitsAreNeverStored(t *testing.T) {
	log := exchangetest.NewStaff(3).Laptop(entry.RoleScout).Open(false)
	run := log.Write(3, 40).Run()
	packed := exchange.Pack(entry.Point{}, raws(run), run.Points)
	for bit := range 8 * len(packed) {
		l := newLone(t, exchange.Config{})
		want := l.announce(run)
		damaged := slices.Clone(packed)
		damaged[bit/8] ^= 1 << (bit % 8)
		for _, a := range of[exchange.Store](l.Receive(exchange.ChunkMessage(want.Number(), run.Log, entry.Point{}, run.Tip(), damaged))) {
			for i, e := range a.Run.Entries {
				if e.Point != run.Entries[i].Point || !bytes.Equal(e.Raw.Body, run.Entries[i].Raw.Body) {
					t.Fatalf("bit %d: another entry %d is stored", bit, e.Seq)
				}
			}
		}
	}
}

func TestPeerThatHasItNoMore(t *testing.T) {
	l := newLone(t, exchange.Config{})
	run := l.staff.Laptop(entry.RoleScout).Open(false).Write(3, 40).Run()
	want := l.announce(run)
	l.Receive(exchange.ChunkMessage(want.Number(), run.Log, run.Tip(), run.Tip(), nil))
	if l.Behind() != 0 || l.Waiting() || !l.Synced() {
		t.Errorf("behind %d, waiting %v, synced %v", l.Behind(), l.Waiting(), l.Synced())
	}
}

func TestAnswerAfterAnswerIsHarmless(t *testing.T) {
	l := newLone(t, exchange.Config{})
	run := l.staff.Laptop(entry.RoleScout).Open(false).Write(3, 40).Run()
	want := l.announce(run)
	message := exchange.ChunkMessage(want.Number(), run.Log, entry.Point{}, run.Tip(), exchange.Pack(entry.Point{}, raws(run), run.Points))
	stores := of[exchange.Store](l.Receive(slices.Clone(message)))
	if len(stores) != 1 {
		t.Fatalf("%d runs to store", len(stores))
	}
	if again := of[exchange.Store](l.Receive(slices.Clone(message))); len(again) != 0 {
		t.Error("the same run is stored twice while it waits")
	}
	if _, err := l.memory.Append(stores[0].Run); err != nil {
		t.Fatal(err)
	}
	l.Stored(stores[0].Run, nil)
	l.Stored(stores[0].Run, nil)
	if again := of[exchange.Store](l.Receive(message)); len(again) != 0 || !l.Synced() {
		t.Errorf("%d runs to store again, synced %v", len(again), l.Synced())
	}
}

// Entries that are held are skipped: what is stored attaches at the fork.
func TestHeldEntriesAreSkipped(t *testing.T) {
	l := newLone(t, exchange.Config{})
	log := l.staff.Laptop(entry.RoleScout).Open(false)
	trunk := log.Write(99, 40).Run()
	clone := log.Clone()
	for _, run := range []entry.Run{trunk, clone.Write(5, 40).Run()} {
		if _, err := l.memory.Append(run); err != nil {
			t.Fatal(err)
		}
	}
	branch := log.Write(7, 40).Run()
	want := l.announce(branch)
	after := slices.IndexFunc(trunk.Entries, func(e entry.Entry) bool { return slices.Contains(want.Held(), e.Point) && e.Seq > 50 })
	if after < 0 {
		t.Fatalf("no sample of the trunk's end: %v", want.Held())
	}
	all := append(raws(trunk)[after+1:], raws(branch)...)
	packed := exchange.Pack(trunk.Entries[after].Point, all, append(trunk.Points, branch.Points...))
	stores := of[exchange.Store](l.Receive(exchange.ChunkMessage(want.Number(), log.Log, trunk.Entries[after].Point, branch.Tip(), packed)))
	if len(stores) != 1 || stores[0].Run.After != trunk.Tip() || len(stores[0].Run.Entries) != 7 || len(stores[0].Run.Points) != 1 ||
		stores[0].Run.Lamport != trunk.Entries[99].Header.Lamport {
		t.Errorf("stores %+v", stores)
	}
}

// A peer that answers with another branch than it was asked for isn't asked
// for that one again.
func TestAnotherBranchThanAskedFor(t *testing.T) {
	l := newLone(t, exchange.Config{})
	log := l.staff.Laptop(entry.RoleScout).Open(false)
	trunk := log.Write(3, 40).Run()
	clone := log.Clone()
	branch := log.Write(2, 40).Run()
	other := clone.Write(3, 40).Run()
	want := l.announce(branch)
	packed := exchange.Pack(entry.Point{}, append(raws(trunk), raws(other)...), other.Points)
	actions := l.Receive(exchange.ChunkMessage(want.Number(), log.Log, entry.Point{}, other.Tip(), packed))
	refused := of[exchange.Refuse](actions)
	if len(refused) != 1 || !errors.Is(refused[0].Err, exchange.ErrAstray) || refused[0].Tip.Point != branch.Tip() {
		t.Errorf("%v, want a refusal with ErrAstray", actions)
	}
	if len(of[exchange.Store](actions)) != 1 {
		t.Error("the other branch verifies, and isn't stored")
	}
	if wants := sent[exchange.Want](t, actions); len(wants) != 0 {
		t.Errorf("goes on asking: %v", wants)
	}
}

// A run that its owner claims to have stored, but hasn't, isn't asked for
// again and again.
func TestStoredButNotHeld(t *testing.T) {
	l := newLone(t, exchange.Config{})
	run := l.staff.Laptop(entry.RoleScout).Open(false).Write(3, 40).Run()
	want := l.announce(run)
	l.Receive(exchange.ChunkMessage(want.Number(), run.Log, entry.Point{}, run.Tip(), exchange.Pack(entry.Point{}, raws(run), run.Points)))
	refused := of[exchange.Refuse](l.Stored(run, nil))
	if len(refused) != 1 || !errors.Is(refused[0].Err, exchange.ErrNotHeld) {
		t.Errorf("%v, want a refusal with ErrNotHeld", refused)
	}
}

// The receiver sets the pace: whatever a peer offers, no more is asked for
// and kept than the limits say.
func TestPaceIsTheReceivers(t *testing.T) {
	l := newLone(t, exchange.Config{Wants: 3, Window: 5})
	laptop := l.staff.Laptop(entry.RoleScout)
	runs := map[entry.LogID]entry.Run{}
	var tips []exchange.Tip
	for range 40 {
		run := laptop.Open(false).Write(2, 40).Run()
		runs[run.Log] = run
		tips = append(tips, exchange.Tip{Log: run.Log, Point: run.Tip()})
	}
	asked := sent[exchange.Want](t, l.Receive(exchange.HaveMessage(true, true, tips...)))
	var stores []exchange.Store
	for done := 0; done < 40; {
		if len(asked) > 3 || len(asked)+len(stores) > 5 {
			t.Fatalf("%d chunks asked for, %d wait to be stored", len(asked), len(stores))
		}
		if len(asked) > 0 && len(stores) < 5 {
			run := runs[asked[0].Log()]
			actions := l.Receive(exchange.ChunkMessage(asked[0].Number(), run.Log, entry.Point{}, run.Tip(), exchange.Pack(entry.Point{}, raws(run), run.Points)))
			asked = append(asked[1:], sent[exchange.Want](t, actions)...)
			stores = append(stores, of[exchange.Store](actions)...)
			continue
		}
		if _, err := l.memory.Append(stores[0].Run); err != nil {
			t.Fatal(err)
		}
		asked = append(asked, sent[exchange.Want](t, l.Stored(stores[0].Run, nil))...)
		stores = stores[1:]
		done++
		// A push meanwhile doesn't break the limit either.
		run := laptop.Open(false).Run()
		pushed := l.Receive(exchange.ChunkMessage(0, run.Log, entry.Point{}, run.Tip(), exchange.Pack(entry.Point{}, raws(run), run.Points)))
		runs[run.Log] = run
		asked = append(asked, sent[exchange.Want](t, pushed)...)
		stores = append(stores, of[exchange.Store](pushed)...)
	}
}

// broken holdings can't be read.
type broken struct{ *exchange.Memory }

var errDisk = errors.New("the disk is gone")

func (b broken) Range(entry.LogID, entry.Point, entry.Point, int) ([]entry.Raw, []entry.SignedPoint, error) {
	return nil, nil, errDisk
}

func TestUnreadableHoldingsEndTheLink(t *testing.T) {
	l := newLone(t, exchange.Config{})
	run := l.staff.Control.Run()
	if _, err := l.memory.Append(run); err != nil {
		t.Fatal(err)
	}
	s := exchange.New(exchange.Config{Holdings: broken{l.memory}})
	s.Open()
	fails := of[exchange.Fail](s.Receive(exchange.WantMessage(1, run.Log, run.Tip())))
	if len(fails) != 1 || !errors.Is(fails[0].Err, errDisk) {
		t.Errorf("%v, want a failure with the disk's", fails)
	}
}

// What attaches to a run that still waits to be stored is held against that
// run's end: its Lamport time has to rise from there.
func TestLamportTimeRisesFromChunkToChunk(t *testing.T) {
	l := newLone(t, exchange.Config{})
	log := l.staff.Laptop(entry.RoleScout).Open(false)
	first := log.Write(9, 40).Run()
	log.Lamport = 5 // forgets what it wrote
	second := log.Write(1, 40).Run()
	want := l.announce(second)
	actions := l.Receive(exchange.ChunkMessage(want.Number(), log.Log, entry.Point{}, first.Tip(), exchange.Pack(entry.Point{}, raws(first), first.Points)))
	wants := sent[exchange.Want](t, actions)
	if len(wants) != 1 || len(of[exchange.Store](actions)) != 1 {
		t.Fatalf("%v, want a run to store and a want", actions)
	}
	actions = l.Receive(exchange.ChunkMessage(wants[0].Number(), log.Log, first.Tip(), second.Tip(), exchange.Pack(first.Tip(), raws(second), second.Points)))
	refused := of[exchange.Refuse](actions)
	if len(refused) != 1 || !errors.Is(refused[0].Err, entry.ErrLamport) {
		t.Errorf("%v, want a refusal with ErrLamport", actions)
	}
}

// The answer to a want goes on from the highest point that lies on the way.
func TestAnswerGoesOnFromTheHighestPoint(t *testing.T) {
	l := newLone(t, exchange.Config{})
	log := l.staff.Laptop(entry.RoleScout).Open(false)
	trunk := log.Write(9, 40).Run()
	clone := log.Clone()
	branch, other := log.Write(5, 40).Run(), clone.Write(2, 40).Run()
	for _, run := range []entry.Run{trunk, branch, other} {
		if _, err := l.memory.Append(run); err != nil {
			t.Fatal(err)
		}
	}
	l.Receive(exchange.HaveMessage(true, true))
	unknown := entry.Point{Seq: 12}
	held := []entry.Point{trunk.Entries[0].Point, trunk.Entries[7].Point, other.Tip(), unknown, trunk.Entries[3].Point}
	answers := sent[exchange.Chunk](t, l.Receive(exchange.WantMessage(1, log.Log, branch.Tip(), held...)))
	if len(answers) != 1 {
		t.Fatalf("%d answers", len(answers))
	}
	if after, upto := answers[0].Ends(); after != trunk.Entries[7].Point || upto != branch.Tip() {
		t.Errorf("answers with %d to %d, want 8 to %d", after.Seq, upto.Seq, branch.Tip().Seq)
	}
}

// What is pushed is taken though its log was asked for, since the answer may never
// come; if it does, before or after the push is stored, it is as good as ever.
func TestAPushIsTakenWhileItsLogIsAskedFor(t *testing.T) {
	for _, late := range []bool{false, true} {
		l := newLone(t, exchange.Config{})
		log := l.staff.Laptop(entry.RoleScout).Open(false)
		held := log.Write(2, 50).Run()
		if _, err := l.memory.Append(held); err != nil {
			t.Fatal(err)
		}
		asked := log.Write(3, 50).Run()
		want := l.announce(asked)
		more := log.Write(1, 50).Run()
		all := asked
		all.Entries, all.Points = slices.Concat(asked.Entries, more.Entries), slices.Concat(asked.Points, more.Points)
		chunk := func(number uint64, run entry.Run) []byte {
			return exchange.ChunkMessage(number, run.Log, held.Tip(), run.Tip(), exchange.Pack(held.Tip(), raws(run), run.Points))
		}
		actions := l.Receive(chunk(0, all))
		stores := of[exchange.Store](actions)
		if len(stores) != 1 || stores[0].Run.Tip() != all.Tip() {
			t.Fatalf("the push isn't taken: %v", actions)
		}
		if late {
			more := l.Receive(chunk(want.Number(), asked))
			actions, stores = append(actions, more...), append(stores, of[exchange.Store](more)...)
		}
		for _, store := range stores {
			_, err := l.memory.Append(store.Run)
			actions = append(actions, l.Stored(store.Run, err)...)
		}
		if !late {
			actions = append(actions, l.Receive(chunk(want.Number(), asked))...)
		}
		if n := len(of[exchange.Refuse](actions)) + len(of[exchange.Fail](actions)); n > 0 {
			t.Errorf("stored late %v: %v", late, actions)
		}
		if l.Behind() != 0 || l.Waiting() || !l.memory.Holds(log.Log, log.Tip) {
			t.Errorf("stored late %v: behind %d, waiting %v", late, l.Behind(), l.Waiting())
		}
	}
}

package merge_test

import (
	"slices"
	"strings"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// What two scouts make of one register. The semantics is that of the
// multi-value register in Shapiro, Preguiça, Baquero and Zawirski, INRIA
// RR-7506 (2011), section 3.2.2: of concurrent assigns all are kept, and an
// assign takes the place of those that its author had seen.
//
// Ledger rules 7, 12, 13 and 14; each case with either scout as the one who had
// written the value before.
func TestRule13WhatNoAppliedWriteReplacesIsLive(t *testing.T) {
	p := shared(1)
	cases := []struct {
		name     string
		write    func(base *fact, a, b *line)
		live     string // the one to show first
		conflict bool
	}{
		{"concurrent edits are both kept", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", base))
		}, "second | first", true},
		{"a later edit replaces what its author saw", func(base *fact, a, b *line) {
			seen := a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", seen))
		}, "second", false},
		{"an edit from a stale screen replaces only what was on the screen", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base)) // held by b's laptop, as its Lamport time shows, but not on the screen
			b.Write(p, value(1, "second", base))
		}, "second | first", true},
		{"a write that says it saw nothing replaces nothing", func(_ *fact, _, b *line) {
			b.Write(p, value(1, "second"))
		}, "second | base", true},
		{"equal values agree", func(base *fact, a, b *line) {
			a.Write(p, value(1, "equal", base))
			b.Write(p, value(1, "equal", base))
		}, "equal | equal", false},
		{"a write that replaces all of them settles a conflict", func(base *fact, a, b *line) {
			x, y := a.Write(p, value(1, "first", base)), b.Write(p, value(1, "second", base))
			a.Write(p, value(1, "settled", x, y))
		}, "settled", false},
		{"a write that replaces one of them doesn't", func(base *fact, a, b *line) {
			x := a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", base))
			a.Write(p, value(1, "third", x))
		}, "third | second", true},
		{"clearing disputes a concurrent value", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, entry.Change{Register: reg(1), Op: entry.OpClear, Replaces: []entry.ID{base.ID}})
		}, " | first", true},
		{"of two writes in one entry the last counts", func(base *fact, a, b *line) {
			a.Write(p, value(1, "dropped", base), value(1, "first"))
		}, "first | base", true},
		{"another register is another matter", func(base *fact, a, b *line) {
			a.Write(p, value(2, "elsewhere", base))
		}, "base", false},
	}
	for _, c := range cases {
		for _, swapped := range []bool{false, true} {
			w := newWorld(1)
			a, b := w.Scout(w.Root, 1), w.Scout(w.Root, 1)
			base := a.Write(p, value(1, "base"))
			if swapped {
				a, b = b, a
			}
			c.write(base, a, b)
			lap := all(w)
			lap.shows(t, c.name, p, strings.Split(c.live, " | ")...)
			check(t, c.name+": conflict", lap.conflicts(p) > 0, c.conflict)
		}
	}
}

// The same bytes as text and as a reference don't mean the same.
func TestRule7AReferenceIsNoText(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	a.Write(shared(1), refer(1, shared(2)))
	a.Write(shared(1), value(1, string(shared(2))))
	a.Write(shared(1), refer(3, "no record"), refer(4, shared(2)))
	lap := all(w)
	check(t, "conflicts", lap.conflicts(shared(1)), 1)
	check(t, "references", len(lap.Record(shared(1)).References()), 1)
}

func TestRule7KeysOfAMapAreRegisters(t *testing.T) {
	w := newWorld(1)
	a, p := w.Scout(w.Root, 1), shared(1)
	key := func(k, v string) entry.Change {
		return entry.Change{Register: entry.Register{Field: 1, Keyed: true, Key: k}, Op: entry.OpValue, Value: []byte(v)}
	}
	a.Write(p, key("", "empty key"), key("hands", "good"), value(1, "no map"))
	lap := all(w)
	check(t, "registers", len(lap.Record(p).Registers), 3)
	check(t, "conflicts", lap.conflicts(p), 0)
	check(t, "empty key", lap.live(p, entry.Register{Field: 1, Keyed: true})[0], "empty key")
	lap.shows(t, "no key", p, "no map")
}

// A cloned disk writes two entries with one number (ledger rule 4). Who saw one
// of them replaces that one, and the other stays.
func TestRule13AForkedEntryIsReplacedAlone(t *testing.T) {
	for branch, want := range []string{"settled | right", "settled | left"} {
		w := newWorld(1)
		a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
		clone := a.Fork(a.At)
		left, right := a.Write(p, value(1, "left")), clone.Write(p, value(1, "right"))
		check(t, "number in the log", left.ID.Seq, right.ID.Seq)
		b.Write(p, value(1, "settled", []*fact{left, right}[branch]))
		all(w).shows(t, "live", p, strings.Split(want, " | ")...)
	}
}

func TestRule13AnEdgeWaitsForWhatItReplaces(t *testing.T) {
	w := newWorld(1)
	a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
	old := a.Write(p, value(1, "old"))
	b.Write(p, value(1, "new", old))
	lap := read(w, without(w.Facts, old)...)
	lap.shows(t, "before it arrives", p, "new")
	lap.Learn(old)
	lap.shows(t, "once it has arrived", p, "new")
}

func TestRule13WhatASetAsideWriteReplacedComesBack(t *testing.T) {
	w := newWorld(1)
	a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
	old := a.Write(p, value(1, "old"))
	before := b.At
	replacing := b.Write(p, value(1, "new", old))
	lap := all(w)
	lap.shows(t, "before the cut", p, "new")
	lap.Learn(w.Root.Cut(b.Device, entry.BeyondNothing, []*fact{before}))
	check(t, "status", lap.Status[replacing.ID], merge.SetAside)
	lap.shows(t, "after the cut", p, "old")
}

// Highest Lamport time first, then the hash; the walls say the opposite.
func TestRule14ShownIsTheHighestLamportTimeThenHash(t *testing.T) {
	for _, late := range []int{0, 1} {
		w := newWorld(1)
		lines, p := []*line{w.Scout(w.Root, 1), w.Scout(w.Root, 1)}, shared(1)
		body := func(v string) entry.Body {
			return entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{value(1, v)}}
		}
		first := lines[late].PutHolding(p, body("knows more"), 2000)
		second := lines[1-late].PutHolding(p, body("knows less"), 1000)
		first.Header.Wall, second.Header.Wall = 1, 1<<40
		lap := all(w)
		lap.shows(t, "live", p, "knows more", "knows less")
		if v, ok := lap.Record(p).Find(reg(1)).Shown(); !ok || v.ID != first.ID {
			t.Errorf("shown is %v, want the entry that knew of more", v)
		}
	}
	w := newWorld(1)
	a, b, p := w.Scout(w.Root, 1), w.Scout(w.Root, 1), shared(1)
	tied := []*fact{}
	for _, l := range []*line{a, b} {
		tied = append(tied, l.PutHolding(p, entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{value(1, "x")}}, 1000))
	}
	check(t, "Lamport time", tied[0].Header.Lamport, tied[1].Header.Lamport)
	slices.SortFunc(tied, func(a, b *fact) int { return -strings.Compare(string(a.ID.Hash[:]), string(b.ID.Hash[:])) })
	tied[0].Header.Wall, tied[1].Header.Wall = 1, 1<<40
	v, _ := all(w).Record(p).Find(reg(1)).Shown()
	check(t, "shown of a tie", v.ID, tied[0].ID)
}

func TestRule14AClearedRegisterShowsNothing(t *testing.T) {
	w := newWorld(1)
	a, p := w.Scout(w.Root, 1), shared(1)
	old := a.Write(p, value(1, "old"))
	a.Write(p, entry.Change{Register: reg(1), Op: entry.OpClear, Replaces: []entry.ID{old.ID}})
	r := all(w).Record(p).Find(reg(1))
	_, ok := r.Shown()
	check(t, "shown", ok, false)
	check(t, "conflict", r.Conflict(), false)
}

// Two scouts who import one list make the same record, so that their equal
// values agree instead of standing in two places.
func TestRule8OneListMakesOneRecord(t *testing.T) {
	w := newWorld(1)
	key := [32]byte{7}
	for _, l := range []*line{w.Scout(w.Root, 1), w.Scout(w.Root, 1)} {
		id := entry.NewRecordID(entry.Shared, mergetest.KindProspect, l.Device.Person, entry.KeyedUnique(key, "invented list", "17"))
		l.Write(id, value(1, "equal"))
	}
	lap := all(w)
	check(t, "records", len(lap.Records), 1)
	for id := range lap.Records {
		lap.shows(t, "live", id, "equal", "equal")
		check(t, "conflicts", lap.conflicts(id), 0)
	}
}

// Kinds of records, fields and ways of writing a value that this program has
// never heard of are folded and replaced like any other.
func TestRule9FoldingNeedsNoSchema(t *testing.T) {
	w := newWorld(1)
	a := w.Scout(w.Root, 1)
	id := entry.NewRecordID(entry.Shared, kindNewer, entry.PersonID{}, [16]byte{1})
	sealed := func(v string, replaces ...*fact) entry.Change {
		return entry.Change{Register: reg(40000), Op: 3, Value: []byte(v), Replaces: ids(replaces)}
	}
	old := a.Write(id, sealed("\xff\x00old"))
	a.Write(id, sealed("\xff\x00new", old))
	lap := all(w)
	check(t, "live", strings.Join(lap.live(id, reg(40000)), " | "), "\xff\x00new")
	back, err := merge.Decode(id, lap.Record(id).Encode())
	if err != nil {
		t.Fatal(err)
	}
	check(t, "kept byte for byte", string(back.Find(reg(40000)).Live[0].Data), "\xff\x00new")
	check(t, "kept operation", back.Find(reg(40000)).Live[0].Op, entry.Op(3))
}

// A kind of entry that only a newer program knows is kept and listed as
// unread, and changes nothing.
func TestRule15WhatCannotBeReadIsListed(t *testing.T) {
	w := newWorld(1)
	a, p := w.Scout(w.Root, 1), shared(1)
	a.Write(p, value(1, "known"))
	f := a.Put(p, entry.Body{Kind: 77, Unknown: []byte("later")})
	other := a.Put(w.Scout(w.Root, 1).Look(1), entry.Body{Kind: 77})
	lap := all(w)
	check(t, "status", lap.Status[f.ID], merge.Unread)
	check(t, "status on another's record", lap.Status[other.ID], merge.NoRight)
	lap.shows(t, "live", p, "known")
}

// A receiver never validates: values that no schema allows are live.
func TestRule15AReceiverNeverValidates(t *testing.T) {
	w := newWorld(1)
	f := w.Scout(w.Root, 1).Write(shared(1), value(1, "\xff\xfe no text"))
	lap := all(w)
	check(t, "status", lap.Status[f.ID], merge.Applied)
	lap.shows(t, "live", shared(1), "\xff\xfe no text")
}

// Lamport times come from what the author held, up to a step that receivers
// take; merging only orders by them.
func TestRule11LamportTimesRiseStepByStep(t *testing.T) {
	const step = 1 << 32
	for _, c := range []struct{ previous, held, want uint64 }{
		{0, 0, 1}, {5, 9, 10}, {9, 5, 10}, {0, step, step}, {0, step - 1, step}, {7, 1 << 60, 7 + step},
	} {
		check(t, "time", entry.NextLamport(c.previous, c.held), c.want)
	}
	w := newWorld(1)
	a, p := w.Scout(w.Root, 1), shared(1)
	far := a.PutHolding(p, entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{value(1, "far")}}, 1<<60)
	check(t, "time of a far one", far.Header.Lamport, far.Prev.Header.Lamport+step)
	a.Write(p, value(1, "next"))
	all(w).shows(t, "live", p, "next", "far")
}

package merge_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// A failing run prints the seed and the steps, and is written to testdata/rapid
// to be run again.

func same(t *rapid.T, what, got, want string) {
	t.Helper()
	if got != want {
		t.Fatalf("%s:\n got\n%s\n want\n%s", what, got, want)
	}
}

func TestOutcomeIsTheModels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		facts := h.part("not held")
		lap := h.read(h.arrival(facts, "arrival")...)
		same(t, "outcome", lap.summary(h.records), newModel(h.world, facts).summary(h.records))
	})
}

// Branches are numbered as they come up, so this also holds a forked log
// against itself with its branches taking turns at being the first.
func TestOrderOfArrivalChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		facts := h.part("not held")
		one, other := h.read(h.arrival(facts, "one")...), h.read(h.arrival(facts, "other")...)
		same(t, "outcome", one.summary(h.records), other.summary(h.records))
		same(t, "stored bytes", one.stored(), other.stored())
		same(t, "state hash", one.hash.String(), other.hash.String())
	})
}

func TestStepByStepEqualsRebuilt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		lap := h.read()
		arrival := h.arrival(h.facts, "arrival")
		for len(arrival) > 0 {
			n := rapid.IntRange(1, min(9, len(arrival))).Draw(t, "batch")
			lap.learn(arrival[:n]...)
			arrival = arrival[n:]
			rebuilt := h.read(lap.held...)
			same(t, "stored bytes", lap.stored(), rebuilt.stored())
			same(t, "state hash", lap.hash.String(), rebuilt.hash.String())
		}
		same(t, "outcome", lap.summary(h.records), h.all().summary(h.records))
	})
}

func TestDuplicatesChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		lap := h.all()
		want := lap.stored()
		for _, f := range h.arrival(h.facts, "again") {
			if f.header.Record != "" && lap.status[f.id] == merge.Applied && len(lap.verdict.Newer) == 0 {
				lap.apply(f)
			}
		}
		same(t, "stored bytes", lap.stored(), want)
	})
}

// The judge is given the same logs and control entries, twice and shuffled.
func TestJudgeIgnoresTheOrderOfItsInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		lap := h.all()
		l := lap.ledger()
		l.Logs = append(l.Logs, l.Logs...)
		l.Controls = append(l.Controls, l.Controls...)
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 0))
		random.Shuffle(len(l.Logs), func(i, k int) { l.Logs[i], l.Logs[k] = l.Logs[k], l.Logs[i] })
		random.Shuffle(len(l.Controls), func(i, k int) { l.Controls[i], l.Controls[k] = l.Controls[k], l.Controls[i] })
		one, other := merge.Judge(lap.ledger()), merge.Judge(l)
		sameLists(t, one, other)
		for _, f := range h.facts {
			a, b := one.Standing(f.id.Log), other.Standing(f.id.Log)
			if a.Granted != b.Granted || !slices.EqualFunc(a.Limits, b.Limits, func(a, b merge.Limit) bool { return a.Cut == b.Cut && slices.Equal(a.Heads, b.Heads) }) {
				t.Fatalf("log %s stands differently: %v, %v", f.id.Log, a, b)
			}
			admittedAsItsLog(t, one, a, f.first.body.Genesis.Certificate)
		}
	})
}

// admittedAsItsLog wants a peer to be let in while its logs may write.
func admittedAsItsLog(t *rapid.T, v *merge.Verdict, s merge.Standing, cert []byte) {
	t.Helper()
	want := merge.Admitted
	switch {
	case !s.Granted:
		want = merge.Unknown
	case slices.ContainsFunc(s.Limits, func(l merge.Limit) bool { return l.Beyond == entry.BeyondNothing }):
		want = merge.Revoked
	}
	if _, got := v.Admission(cert); got != want && !s.Root {
		t.Fatalf("certificate %s: admission %d, want %d", entry.CertificateOf(cert), got, want)
	}
}

// sameLists also wants one order: what is shown or stored from these lists
// must not depend on what arrived first.
func sameLists(t *rapid.T, a, b *merge.Verdict) {
	t.Helper()
	if !slices.EqualFunc(a.Cuts, b.Cuts, func(a, b merge.Cut) bool { return a.ID == b.ID }) {
		t.Fatalf("cuts differ: %v, %v", a.Cuts, b.Cuts)
	}
	if !slices.EqualFunc(a.LinkKeys, b.LinkKeys, func(a, b merge.LinkKey) bool { return a.ID == b.ID }) {
		t.Fatalf("link keys differ: %v, %v", a.LinkKeys, b.LinkKeys)
	}
	if !slices.Equal(a.Newer, b.Newer) || len(a.Grants) != len(b.Grants) {
		t.Fatalf("newer entries or grants differ")
	}
}

func TestClocksChangeOnlyWhatIsShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		lap, want := h.all(), h.all()
		for _, f := range h.facts {
			f.header.Wall = rapid.Int64().Draw(t, "wall")
		}
		lap.judge()
		lap.fold()
		same(t, "outcome", lap.summary(h.records), want.summary(h.records))
		same(t, "state hash", lap.hash.String(), want.hash.String())
		for _, r := range lap.records {
			for _, reg := range r.Registers {
				for _, v := range reg.Live {
					if f := h.find(v.ID); v.Wall != f.header.Wall {
						t.Fatalf("the time shown is %d, the author's clock said %d", v.Wall, f.header.Wall)
					}
				}
			}
		}
	})
}

func (w *world) find(id entry.ID) *fact {
	return w.facts[slices.IndexFunc(w.facts, func(f *fact) bool { return f.id == id })]
}

func TestEncodeIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		for id, r := range h.all().records {
			data := r.Encode()
			back, err := merge.Decode(id, data)
			if err != nil {
				t.Fatalf("decode: %v", err)
			}
			if !bytes.Equal(back.Encode(), data) || back.Digest() != r.Digest() {
				t.Fatalf("record %s isn't what was written", id)
			}
			for i, reg := range r.Registers {
				if !slices.EqualFunc(back.Registers[i].Live, reg.Live, func(a, b merge.Value) bool {
					return *a.Origin == *b.Origin && a.Op == b.Op && bytes.Equal(a.Data, b.Data)
				}) {
					t.Fatalf("register %v: read %v, written %v", reg.Register, back.Registers[i].Live, reg.Live)
				}
			}
			if n := rapid.IntRange(0, len(data)-1).Draw(t, "torn at"); n < len(data) {
				if _, err := merge.Decode(id, data[:n]); err == nil {
					t.Fatalf("the first %d of %d bytes were read as a whole", n, len(data))
				}
			}
		}
	})
}

// Ledger rule 16, both directions, on pairs of laptops that differ a little.
func TestStateHashIsEqualForEqualLiveValuesOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		one, other := h.read(h.part("one lacks")...), h.read(h.part("other lacks")...)
		if (one.hash == other.hash) != (one.liveSet() == other.liveSet()) {
			t.Fatalf("hashes %s, %s of\n%s\nand\n%s", one.hash, other.hash, one.liveSet(), other.liveSet())
		}
	})
}

// Only raising replaces a cut (ledger rule 22), so hearing that the author of a
// cut that stands raised it never takes away what the laptop accepted.
func TestRaisingNeverTakesAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		before := h.all()
		if len(before.verdict.Cuts) == 0 {
			return
		}
		low := h.find(pick(h, "cut", before.verdict.Cuts).ID)
		author := h.control[slices.IndexFunc(h.control, func(l *line) bool { return l.at.first == low.first })]
		by := author.fork(low).cut(deviceOf(h, low), entry.BeyondScout, h.that(func(f *fact) bool {
			return slices.Contains(low.body.Cut.Heads, f.id)
		}), low)
		after := h.all()
		if after.status[by.id] != merge.Applied {
			return
		}
		for _, f := range h.that(func(f *fact) bool { return before.status[f.id] == merge.Applied }) {
			if after.status[f.id] == merge.SetAside {
				t.Fatalf("entry %s was applied before cut %s was raised", f.id, low.id)
			}
		}
	})
}

func deviceOf(h *history, cut *fact) device {
	return h.devices[slices.IndexFunc(h.devices, func(d device) bool { return d.id() == cut.body.Cut.Device })]
}

package merge_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// A failing run prints the seed and the steps, and is written to testdata/rapid
// to be run again.

// steps is how long a history is at most.
const steps = 42

func same(t *rapid.T, what, got, want string) {
	t.Helper()
	if got != want {
		t.Fatalf("%s:\n got\n%s\n want\n%s", what, got, want)
	}
}

func TestOutcomeIsTheModels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		facts := h.Part("not held")
		lap := read(h.World, h.Arrival(facts, "arrival")...)
		same(t, "outcome", lap.Outcome(h.Records), mergetest.NewModel(h.World, facts).Outcome(h.Records))
	})
}

// Branches are numbered as they come up, so this also holds a forked log
// against itself with its branches taking turns at being the first.
func TestOrderOfArrivalChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		facts := h.Part("not held")
		one, other := read(h.World, h.Arrival(facts, "one")...), read(h.World, h.Arrival(facts, "other")...)
		same(t, "outcome", one.Outcome(h.Records), other.Outcome(h.Records))
		same(t, "stored bytes", one.stored(), other.stored())
		same(t, "state hash", one.Hash.String(), other.Hash.String())
	})
}

func TestStepByStepEqualsRebuilt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		lap := read(h.World)
		arrival := h.Arrival(h.Facts, "arrival")
		for len(arrival) > 0 {
			n := rapid.IntRange(1, min(9, len(arrival))).Draw(t, "batch")
			lap.Learn(arrival[:n]...)
			arrival = arrival[n:]
			rebuilt := read(h.World, lap.Held...)
			same(t, "stored bytes", lap.stored(), rebuilt.stored())
			same(t, "state hash", lap.Hash.String(), rebuilt.Hash.String())
		}
		same(t, "outcome", lap.Outcome(h.Records), all(h.World).Outcome(h.Records))
	})
}

func TestDuplicatesChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		lap := all(h.World)
		want := lap.stored()
		for _, f := range h.Arrival(h.Facts, "again") {
			if f.Header.Record != "" && lap.Status[f.ID] == merge.Applied && len(lap.Verdict.Newer) == 0 {
				lap.Apply(f)
			}
		}
		same(t, "stored bytes", lap.stored(), want)
	})
}

// The judge is given the same logs and control entries, twice and shuffled.
func TestJudgeIgnoresTheOrderOfItsInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		lap := all(h.World)
		l := lap.Ledger()
		l.Logs = append(l.Logs, l.Logs...)
		l.Controls = append(l.Controls, l.Controls...)
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 0))
		random.Shuffle(len(l.Logs), func(i, k int) { l.Logs[i], l.Logs[k] = l.Logs[k], l.Logs[i] })
		random.Shuffle(len(l.Controls), func(i, k int) { l.Controls[i], l.Controls[k] = l.Controls[k], l.Controls[i] })
		one, other := merge.Judge(lap.Ledger()), merge.Judge(l)
		sameLists(t, one, other)
		for _, f := range h.Facts {
			a, b := one.Standing(f.ID.Log), other.Standing(f.ID.Log)
			if a.Granted != b.Granted || !slices.EqualFunc(a.Limits, b.Limits, func(a, b merge.Limit) bool { return a.Cut == b.Cut && slices.Equal(a.Heads, b.Heads) }) {
				t.Fatalf("log %s stands differently: %v, %v", f.ID.Log, a, b)
			}
			admittedAsItsLog(t, one, a, f.First.Says.Genesis.Certificate)
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
	if !slices.EqualFunc(a.LinkKeys, b.LinkKeys, func(a, b merge.LinkKey) bool { return a.ID == b.ID && a.Usable == b.Usable }) {
		t.Fatalf("link keys differ: %v, %v", a.LinkKeys, b.LinkKeys)
	}
	if !slices.Equal(a.Newer, b.Newer) || len(a.Grants) != len(b.Grants) {
		t.Fatalf("newer entries or grants differ")
	}
}

func TestClocksChangeOnlyWhatIsShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		want := all(h.World)
		for _, f := range h.Facts {
			f.Header.Wall = rapid.Int64().Draw(t, "wall")
		}
		lap := all(h.World)
		same(t, "outcome", lap.Outcome(h.Records), want.Outcome(h.Records))
		same(t, "state hash", lap.Hash.String(), want.Hash.String())
		for _, r := range lap.Records {
			for _, reg := range r.Registers {
				for _, v := range reg.Live {
					if f := h.Find(v.ID); v.Wall != f.Header.Wall {
						t.Fatalf("the time shown is %d, the author's clock said %d", v.Wall, f.Header.Wall)
					}
				}
			}
		}
	})
}

func TestEncodeIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		for id, r := range all(h.World).Records {
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
		h := mergetest.Draw(t, steps)
		one, other := read(h.World, h.Part("one lacks")...), read(h.World, h.Part("other lacks")...)
		if (one.Hash == other.Hash) != (one.liveSet() == other.liveSet()) {
			t.Fatalf("hashes %s, %s of\n%s\nand\n%s", one.Hash, other.Hash, one.liveSet(), other.liveSet())
		}
	})
}

// Only raising replaces a cut (ledger rule 22), so hearing that the author of a
// cut that stands raised it never takes away what the laptop accepted.
func TestRaisingNeverTakesAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := mergetest.Draw(t, steps)
		before := all(h.World)
		if len(before.Verdict.Cuts) == 0 {
			return
		}
		low := h.Find(mergetest.Pick(t, "cut", before.Verdict.Cuts).ID)
		author := h.Control[slices.IndexFunc(h.Control, func(l *line) bool { return l.At.First == low.First })]
		by := author.Fork(low).Cut(h.DeviceOf(low), entry.BeyondScout, h.That(func(f *fact) bool {
			return slices.Contains(low.Says.Cut.Heads, f.ID)
		}), low)
		after := all(h.World)
		if after.Status[by.ID] != merge.Applied {
			return
		}
		for _, f := range h.That(func(f *fact) bool { return before.Status[f.ID] == merge.Applied }) {
			if after.Status[f.ID] == merge.SetAside {
				t.Fatalf("entry %s was applied before cut %s was raised", f.ID, low.ID)
			}
		}
	})
}

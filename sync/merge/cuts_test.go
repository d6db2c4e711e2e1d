package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

const (
	applied = merge.Applied
	aside   = merge.SetAside
)

// three writes three entries.
func three(l *line) []*fact {
	return []*fact{l.Write(shared(1), value(1, "1")), l.Write(shared(1), value(1, "2")), l.Write(shared(1), value(1, "3"))}
}

func TestRule22ACutAcceptsUpToItsHead(t *testing.T) {
	for name, c := range map[string]struct {
		head int // -1: before the first of the three
		want []merge.Status
	}{
		"before":  {-1, []merge.Status{aside, aside, aside}},
		"between": {1, []merge.Status{applied, applied, aside}},
		"after":   {2, []merge.Status{applied, applied, applied}},
	} {
		w := newWorld(1)
		l := w.Scout(w.Root, 1)
		head := l.At
		facts := three(l)
		if c.head >= 0 {
			head = facts[c.head]
		}
		w.Root.Cut(l.Device, entry.BeyondNothing, []*fact{head})
		all(w).statuses(t, name, facts, c.want...)
	}
}

func TestRule22LogsNotNamedAreShutOut(t *testing.T) {
	w := newWorld(1)
	l := w.Scout(w.Root, 1)
	other := w.Open(l.Device, l.Cert, false)
	named, unnamed := three(l), three(other)
	w.Root.Cut(l.Device, entry.BeyondNothing, named[2:])
	lap := all(w)
	lap.statuses(t, "named", named, applied, applied, applied)
	lap.statuses(t, "not named", unnamed, aside, aside, aside)
}

func TestRule22ACutBindsCertificatesThatItsAuthorNeverSaw(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	l := w.Scout(w.Root, 1)
	w.Root.Cut(l.Device, entry.BeyondNothing, []*fact{l.At})
	unseen := w.Certificate(l.Device, entry.RoleScout, 0, 2)
	director.Grant(unseen)
	f := w.Open(l.Device, unseen, false).Write(shared(1), value(1, "x"))
	lap := all(w)
	check(t, "status", lap.Status[f.ID], aside)
	_, admission := lap.Verdict.Admission(unseen)
	check(t, "as a peer", admission, merge.Revoked)
}

// A demotion leaves a scout's rights beyond it, in logs not named too.
func TestRule22ADemotedDirectorIsAScout(t *testing.T) {
	w := newWorld(1)
	control, data := w.Director(w.Root, 1)
	scout := w.NewDevice()
	cert := w.Certificate(scout, entry.RoleScout, 0, 2)
	before := data.Write(board(1), value(1, "before"))
	w.Root.Cut(data.Device, entry.BeyondScout, []*fact{before, control.At})
	facts := []*fact{
		before,
		data.Write(board(1), value(1, "after")),
		data.Write(shared(1), value(1, "after")),
		data.Write(data.Look(1), value(1, "after")),
		control.Grant(cert),
		w.Open(data.Device, data.Cert, false).Write(shared(1), value(1, "in a new log")),
	}
	lap := all(w)
	lap.statuses(t, "demoted", facts, applied, merge.NoRight, applied, applied, merge.NoRight, applied)
	_, admission := lap.Verdict.Admission(data.Cert)
	check(t, "as a peer", admission, merge.Admitted)
	_, admission = lap.Verdict.Admission(cert)
	check(t, "whom it granted after", admission, merge.Unknown)
}

// Accepted is what all standing cuts accept, each kind of right by itself.
func TestRule22SeveralCutsAcceptWhatAllAccept(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		w := newWorld(1)
		one, _ := w.Director(w.Root, 1)
		other, _ := w.Director(w.Root, 1)
		l := w.Scout(one, 2)
		facts := three(l)
		heads := []*fact{facts[0], facts[1]}
		if swapped {
			heads[0], heads[1] = heads[1], heads[0]
		}
		one.Cut(l.Device, entry.BeyondNothing, heads[:1])
		other.Cut(l.Device, entry.BeyondNothing, heads[1:])
		lap := all(w)
		lap.statuses(t, "two revocations", facts, applied, aside, aside)
		check(t, "standing cuts", len(lap.Verdict.Cuts), 2)
	}
	w := newWorld(1)
	one, _ := w.Director(w.Root, 1)
	other, _ := w.Director(w.Root, 1)
	_, l := w.Director(one, 2)
	facts := []*fact{
		l.Write(board(1), value(1, "1")), l.Write(board(1), value(1, "2")), l.Write(shared(1), value(1, "3")), l.Write(shared(1), value(1, "4")),
	}
	one.Cut(l.Device, entry.BeyondScout, facts[:1])
	other.Cut(l.Device, entry.BeyondNothing, facts[2:3])
	all(w).statuses(t, "demoted early, revoked late", facts, applied, merge.NoRight, applied, aside)
}

func TestRule22WhoCanCutWhom(t *testing.T) {
	for name, c := range map[string]struct {
		by, of string
		status merge.Status
	}{
		"equal by equal":     {"head", "equal", applied},
		"equal by the other": {"equal", "head", applied},
		"higher by lower":    {"low", "head", applied},
		"lower by higher":    {"equal", "low", aside},
		"anyone by the root": {"root", "head", aside},
		"itself":             {"head", "head", applied},
	} {
		w := newWorld(1)
		head, headData := w.Director(w.Root, 1)
		equal, equalData := w.Director(w.Root, 1)
		low, lowData := w.Director(head, 2)
		by := map[string]*line{"root": w.Root, "head": head, "equal": equal, "low": low}[c.by]
		of := map[string]*line{"head": headData, "equal": equalData, "low": lowData}[c.of]
		f := of.Write(shared(1), value(1, "x"))
		by.Cut(of.Device, entry.BeyondNothing, nil)
		lap := all(w)
		check(t, name, lap.Status[f.ID], c.status)
		_, admission := lap.Verdict.Admission(of.Cert)
		check(t, name+", as a peer", admission == merge.Revoked, c.status == aside)
	}
}

// Two directors of one rank cut each other: both cuts count, neither binds the
// other director, and both bind what ranks below. The root decides.
func TestRule22EqualsWhoCutEachOther(t *testing.T) {
	w := newWorld(1)
	one, oneData := w.Director(w.Root, 1)
	other, otherData := w.Director(w.Root, 1)
	cuts := []*fact{one.Cut(other.Device, entry.BeyondNothing, nil), other.Cut(one.Device, entry.BeyondNothing, nil)}
	writes := []*fact{oneData.Write(board(1), value(1, "one")), otherData.Write(board(1), value(1, "other"))}
	lap := all(w)
	lap.statuses(t, "cuts", cuts, applied, applied)
	lap.statuses(t, "writes", writes, applied, applied)
	check(t, "the board", lap.conflicts(board(1)), 1)
	lap.Learn(w.Root.Cut(other.Device, entry.BeyondNothing, nil))
	lap.statuses(t, "cuts, after the root spoke", cuts, applied, aside)
	lap.statuses(t, "writes, after the root spoke", writes, applied, aside)
}

// A cut of who cut: what the lower one said beyond the higher one's head falls.
func TestRule22HighestRankIsHeardFirst(t *testing.T) {
	w := newWorld(1)
	head, _ := w.Director(w.Root, 1)
	low, _ := w.Director(head, 2)
	scout := w.Scout(head, 3)
	f := scout.Write(shared(1), value(1, "x"))
	before := low.At
	low.Cut(scout.Device, entry.BeyondNothing, nil)
	lap := all(w)
	check(t, "cut by the lower", lap.Status[f.ID], aside)
	lap.Learn(head.Cut(low.Device, entry.BeyondNothing, []*fact{before}))
	check(t, "with the lower cut before", lap.Status[f.ID], applied)
}

func TestRule22ReadmissionNamesTheCut(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	l := w.Scout(w.Root, 1)
	old := three(l)
	cut := w.Root.Cut(l.Device, entry.BeyondNothing, old[:1])
	unaware, aware := w.Certificate(l.Device, entry.RoleScout, 0, 2), w.Certificate(l.Device, entry.RoleScout, 0, 2)
	director.Grant(unaware)
	director.Grant(aware, cut)
	shut, open := three(w.Open(l.Device, unaware, false)), three(w.Open(l.Device, aware, false))
	lap := all(w)
	lap.statuses(t, "the old log", old, applied, aside, aside)
	lap.statuses(t, "a grant that doesn't name it", shut, aside, aside, aside)
	lap.statuses(t, "a grant that does", open, applied, applied, applied)
	lap.Learn(w.Root.Cut(l.Device, entry.BeyondNothing, old[:1]))
	lap.statuses(t, "a second cut binds it", open, aside, aside, aside)
}

// Raising a cut, once or twice, must not shut out whom a grant let through.
func TestRule22RaisingSparesTheReadmitted(t *testing.T) {
	w := newWorld(1)
	director, _ := w.Director(w.Root, 1)
	l := w.Scout(director, 2)
	old := three(l)
	cut := director.Cut(l.Device, entry.BeyondNothing, old[:1])
	cert := w.Certificate(l.Device, entry.RoleScout, 0, 2)
	director.Grant(cert, cut)
	readmitted := three(w.Open(l.Device, cert, false))
	for i := range 2 {
		cut = w.Root.Cut(l.Device, entry.BeyondNothing, old[1+i:2+i], cut)
		lap := all(w)
		lap.statuses(t, "readmitted", readmitted, applied, applied, applied)
		check(t, "the old log", lap.Status[old[1+i].ID], applied)
		check(t, "standing cuts", len(lap.Verdict.Cuts), 1)
		_, admission := lap.Verdict.Admission(cert)
		check(t, "as a peer", admission, merge.Admitted)
	}
}

func TestRule22OnlyRaisingReplacesACut(t *testing.T) {
	type second func(w *world, high, equal, low *line, first *fact, l *line, facts []*fact)
	for name, c := range map[string]struct {
		second second
		want   []merge.Status
	}{
		"raised by its author's equal": {func(_ *world, _, equal, _ *line, first *fact, l *line, facts []*fact) {
			equal.Cut(l.Device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, applied}},
		"raised by someone higher": {func(_ *world, high, _, _ *line, first *fact, l *line, facts []*fact) {
			high.Cut(l.Device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, applied}},
		"not raised by someone lower": {func(_ *world, _, _, low *line, first *fact, l *line, facts []*fact) {
			low.Cut(l.Device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, aside}},
		"a later cut that doesn't name it": {func(_ *world, _, equal, _ *line, _ *fact, l *line, facts []*fact) {
			equal.Cut(l.Device, entry.BeyondNothing, facts[2:])
		}, []merge.Status{applied, applied, aside}},
		"narrowed": {func(_ *world, _, equal, _ *line, first *fact, l *line, facts []*fact) {
			equal.Cut(l.Device, entry.BeyondNothing, facts[:1], first)
		}, []merge.Status{applied, aside, aside}},
		"narrowed in what is left beyond": {func(w *world, high, equal, _ *line, _ *fact, l *line, facts []*fact) {
			demoted := high.Cut(l.Device, entry.BeyondScout, facts[:1])
			equal.Cut(l.Device, entry.BeyondNothing, facts[2:], demoted)
		}, []merge.Status{applied, applied, aside}},
		"raised to a demotion": {func(_ *world, _, equal, _ *line, first *fact, l *line, facts []*fact) {
			equal.Cut(l.Device, entry.BeyondScout, facts[1:2], first)
		}, []merge.Status{applied, applied, applied}},
		"of another device": {func(w *world, _, equal, _ *line, first *fact, _ *line, facts []*fact) {
			equal.Cut(w.NewDevice(), entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, aside}},
		"raised by one that is set aside": {func(w *world, high, equal, _ *line, first *fact, l *line, facts []*fact) {
			before := equal.At
			equal.Cut(l.Device, entry.BeyondNothing, facts[2:], first)
			w.Root.Cut(equal.Device, entry.BeyondNothing, []*fact{before})
		}, []merge.Status{applied, applied, aside}},
	} {
		w := newWorld(1)
		high, _ := w.Director(w.Root, 1)
		author, _ := w.Director(high, 2)
		equal, _ := w.Director(high, 2)
		low, _ := w.Director(author, 3)
		l := w.Scout(high, 4)
		facts := three(l)
		first := author.Cut(l.Device, entry.BeyondNothing, facts[1:2])
		c.second(w, high, equal, low, first, l, facts)
		all(w).statuses(t, name, facts, c.want...)
	}
}

// A cut that accepts more of one log and less of another raises nothing, and
// one that leaves less beyond doesn't either, though its heads lie higher.
func TestRule22RaisingHereAndNarrowingThere(t *testing.T) {
	w := newWorld(1)
	l := w.Scout(w.Root, 1)
	here, there := three(l), three(w.Open(l.Device, l.Cert, false))
	first := w.Root.Cut(l.Device, entry.BeyondNothing, []*fact{here[0], there[1]})
	w.Root.Cut(l.Device, entry.BeyondNothing, []*fact{here[2], there[0]}, first)
	lap := all(w)
	check(t, "standing cuts", len(lap.Verdict.Cuts), 2)
	lap.statuses(t, "here", here, applied, aside, aside)
	lap.statuses(t, "there", there, applied, aside, aside)

	w = newWorld(1)
	_, data := w.Director(w.Root, 1)
	writes := []*fact{data.Write(board(1), value(1, "1")), data.Write(board(1), value(1, "2")), data.Write(shared(1), value(1, "3"))}
	demoted := w.Root.Cut(data.Device, entry.BeyondScout, writes[:1])
	w.Root.Cut(data.Device, entry.BeyondNothing, writes[2:], demoted)
	writes = append(writes, data.Write(shared(1), value(1, "4")))
	lap = all(w)
	check(t, "standing cuts", len(lap.Verdict.Cuts), 2)
	lap.statuses(t, "demoted, then revoked", writes, applied, merge.NoRight, applied, aside)
}

// A cut that names one branch of a forked log shuts out the other one from
// where they part, and one that names both accepts both.
func TestRule22ACutOfAForkedLog(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		w := newWorld(1)
		l := w.Scout(w.Root, 1)
		trunk := three(l)
		clone := l.Fork(trunk[2])
		left, right := three(l), three(clone)
		if swapped {
			left, right = right, left
		}
		first := w.Root.Cut(l.Device, entry.BeyondNothing, left[1:2])
		lap := all(w)
		lap.statuses(t, "trunk", trunk, applied, applied, applied)
		lap.statuses(t, "named", left, applied, applied, aside)
		lap.statuses(t, "not named", right, aside, aside, aside)
		lap.Learn(w.Root.Cut(l.Device, entry.BeyondNothing, []*fact{left[1], right[0]}, first))
		lap.statuses(t, "named, after raising", left, applied, applied, aside)
		lap.statuses(t, "the other, after raising", right, applied, aside, aside)
	}
}

// A head that isn't held proves nothing: its log waits, and no cut counts as
// raised to it.
func TestRule23AHeadThatIsNotHeldWaits(t *testing.T) {
	w := newWorld(1)
	l := w.Scout(w.Root, 1)
	facts := three(l)
	cut := w.Root.Cut(l.Device, entry.BeyondNothing, facts[1:2])
	lap := read(w, without(w.Facts, facts[1])...)
	lap.statuses(t, "head not held", facts[:1], aside)
	lap.Learn(facts[1:]...)
	lap.statuses(t, "head held", facts, applied, applied, aside)

	w.Root.Cut(l.Device, entry.BeyondNothing, facts[2:], cut)
	lap = read(w, without(w.Facts, facts[2])...)
	check(t, "standing cuts", len(lap.Verdict.Cuts), 2)
	lap.statuses(t, "raised to a head not held", facts[:2], aside, aside)
	lap.Learn(facts[2])
	check(t, "standing cuts", len(lap.Verdict.Cuts), 1)
	lap.statuses(t, "raised", facts, applied, applied, applied)
}

// Whether a head that isn't held lies below another one can't be told, so the
// cut that names it stands.
func TestRule23NoCutIsRaisedFromAHeadThatIsNotHeld(t *testing.T) {
	w := newWorld(1)
	l := w.Scout(w.Root, 1)
	clone := l.Fork(l.At)
	left, right := three(l), three(clone)
	first := w.Root.Cut(l.Device, entry.BeyondNothing, left[:1])
	w.Root.Cut(l.Device, entry.BeyondNothing, right[:1], first)
	for name, facts := range map[string][]*fact{"held": w.Facts, "not held": without(w.Facts, left[0])} {
		lap := read(w, facts...)
		check(t, name+": standing cuts", len(lap.Verdict.Cuts), 2)
		lap.statuses(t, name, right, aside, aside, aside)
	}
}

// What a newer program can say in a control entry stops folding: it could mean
// anything. What never counted doesn't.
func TestRule24ANewerControlEntryStopsFolding(t *testing.T) {
	unknown := entry.Body{Kind: 77, Unknown: []byte("later")}
	certificate := func(w *world) []byte {
		cert := w.Certificate(w.NewDevice(), entry.RoleScout, 0, 2)
		cert[0] = entry.Version + 1
		return cert
	}
	for name, c := range map[string]struct {
		put   func(w *world, director, data *line)
		newer int
	}{
		"a kind":                        {func(_ *world, d, _ *line) { d.Put("", unknown) }, 1},
		"what a cut leaves":             {func(w *world, d, _ *line) { d.Cut(w.NewDevice(), 2, nil) }, 1},
		"a certificate's format":        {func(w *world, d, _ *line) { d.Grant(certificate(w)) }, 1},
		"a grant that can't be read":    {func(_ *world, d, _ *line) { d.Grant([]byte{1, 2, 3}) }, 0},
		"a kind in a log of records":    {func(_ *world, _, data *line) { data.Put(shared(1), unknown) }, 0},
		"a kind in a log that was cut":  {func(w *world, d, _ *line) { w.Root.Cut(d.Device, 0, nil); d.Put("", unknown) }, 0},
		"a kind after a demotion":       {func(w *world, d, _ *line) { w.Root.Cut(d.Device, 1, nil); d.Put("", unknown) }, 0},
		"a kind before its log was cut": {func(w *world, d, _ *line) { w.Root.Cut(d.Device, 0, []*fact{d.Put("", unknown)}) }, 1},
	} {
		w := newWorld(1)
		director, data := w.Director(w.Root, 1)
		c.put(w, director, data)
		lap := all(w)
		check(t, name, len(lap.Verdict.Newer), c.newer)
	}
}

// What a cut would come to is what it comes to once it is written (rule 22: the outcome
// follows from the control entries alone), also where what it lets count lets more count.
func TestRule22ASupposedCutComesToWhatAWrittenOneDoes(t *testing.T) {
	w := newWorld(1)
	above, _ := w.Director(w.Root, 1)
	cut, _ := w.Director(above, 2)
	first := above.Cut(cut.Device, entry.BeyondNothing, []*fact{cut.At})
	low, _ := w.Director(cut, 3)
	low.Grant(w.Certificate(w.NewDevice(), entry.RoleScout, 0, 4))
	before := all(w)
	cert, err := entry.DecodeCertificate(above.Cert)
	if err != nil {
		t.Fatal(err)
	}
	ledger := before.Ledger()
	ledger.Supposed = []merge.Supposed{{By: cert.Rank(), Body: entry.Cut{
		Device: cut.Device.ID(), Heads: []entry.ID{cut.At.ID}, Replaces: []entry.ID{first.ID},
	}}}
	supposed := merge.Judge(ledger)
	above.Cut(cut.Device, entry.BeyondNothing, []*fact{cut.At}, first)
	written := all(w).Verdict

	check(t, "certificates before", len(before.Verdict.Grants), 2)
	check(t, "certificates with it", len(supposed.Grants), 4)
	check(t, "certificates once it is written", len(written.Grants), 4)
	for id := range written.Grants {
		if _, counts := supposed.Grants[id]; !counts {
			t.Errorf("certificate %s would not count, and does", id)
		}
	}
	check(t, "cuts with it", len(supposed.Cuts), len(written.Cuts))
}

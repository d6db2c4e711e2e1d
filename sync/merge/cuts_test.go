package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// statuses checks facts one by one.
func (lap *laptop) statuses(t *testing.T, what string, facts []*fact, want ...merge.Status) {
	t.Helper()
	for i, f := range facts {
		if got := lap.status[f.id]; got != want[i] {
			t.Errorf("%s: entry %d: status %d, want %d", what, i, got, want[i])
		}
	}
}

const (
	applied = merge.Applied
	aside   = merge.SetAside
)

// three writes three entries.
func three(l *line) []*fact {
	return []*fact{l.write(shared(1), value(1, "1")), l.write(shared(1), value(1, "2")), l.write(shared(1), value(1, "3"))}
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
		l := w.scout(w.root, 1)
		head := l.at
		facts := three(l)
		if c.head >= 0 {
			head = facts[c.head]
		}
		w.root.cut(l.device, entry.BeyondNothing, []*fact{head})
		w.all().statuses(t, name, facts, c.want...)
	}
}

func TestRule22LogsNotNamedAreShutOut(t *testing.T) {
	w := newWorld(1)
	l := w.scout(w.root, 1)
	other := w.open(l.device, l.cert, false)
	named, unnamed := three(l), three(other)
	w.root.cut(l.device, entry.BeyondNothing, named[2:])
	lap := w.all()
	lap.statuses(t, "named", named, applied, applied, applied)
	lap.statuses(t, "not named", unnamed, aside, aside, aside)
}

func TestRule22ACutBindsCertificatesThatItsAuthorNeverSaw(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	l := w.scout(w.root, 1)
	w.root.cut(l.device, entry.BeyondNothing, []*fact{l.at})
	unseen := w.certificate(l.device, entry.RoleScout, 0, 2)
	director.grant(unseen)
	f := w.open(l.device, unseen, false).write(shared(1), value(1, "x"))
	lap := w.all()
	check(t, "status", lap.status[f.id], aside)
	_, admission := lap.verdict.Admission(unseen)
	check(t, "as a peer", admission, merge.Revoked)
}

// A demotion leaves a scout's rights beyond it, in logs not named too.
func TestRule22ADemotedDirectorIsAScout(t *testing.T) {
	w := newWorld(1)
	control, data := w.director(w.root, 1)
	scout := w.newDevice()
	cert := w.certificate(scout, entry.RoleScout, 0, 2)
	before := data.write(board(1), value(1, "before"))
	w.root.cut(data.device, entry.BeyondScout, []*fact{before, control.at})
	facts := []*fact{
		before,
		data.write(board(1), value(1, "after")),
		data.write(shared(1), value(1, "after")),
		data.write(owned(kindLook, data, 1), value(1, "after")),
		control.grant(cert),
		w.open(data.device, data.cert, false).write(shared(1), value(1, "in a new log")),
	}
	lap := w.all()
	lap.statuses(t, "demoted", facts, applied, merge.NoRight, applied, applied, merge.NoRight, applied)
	_, admission := lap.verdict.Admission(data.cert)
	check(t, "as a peer", admission, merge.Admitted)
	_, admission = lap.verdict.Admission(cert)
	check(t, "whom it granted after", admission, merge.Unknown)
}

// Accepted is what all standing cuts accept, each kind of right by itself.
func TestRule22SeveralCutsAcceptWhatAllAccept(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		w := newWorld(1)
		one, _ := w.director(w.root, 1)
		other, _ := w.director(w.root, 1)
		l := w.scout(one, 2)
		facts := three(l)
		heads := []*fact{facts[0], facts[1]}
		if swapped {
			heads[0], heads[1] = heads[1], heads[0]
		}
		one.cut(l.device, entry.BeyondNothing, heads[:1])
		other.cut(l.device, entry.BeyondNothing, heads[1:])
		lap := w.all()
		lap.statuses(t, "two revocations", facts, applied, aside, aside)
		check(t, "standing cuts", len(lap.verdict.Cuts), 2)
	}
	w := newWorld(1)
	one, _ := w.director(w.root, 1)
	other, _ := w.director(w.root, 1)
	_, l := w.director(one, 2)
	facts := []*fact{
		l.write(board(1), value(1, "1")), l.write(board(1), value(1, "2")), l.write(shared(1), value(1, "3")), l.write(shared(1), value(1, "4")),
	}
	one.cut(l.device, entry.BeyondScout, facts[:1])
	other.cut(l.device, entry.BeyondNothing, facts[2:3])
	w.all().statuses(t, "demoted early, revoked late", facts, applied, merge.NoRight, applied, aside)
}

func TestRule22WhoCanCutWhom(t *testing.T) {
	w := newWorld(1)
	head, headData := w.director(w.root, 1)
	equal, equalData := w.director(w.root, 1)
	low, lowData := w.director(head, 2)
	for name, c := range map[string]struct {
		by     *line
		of     *line
		status merge.Status
	}{
		"equal by equal":     {head, equalData, applied},
		"equal by the other": {equal, headData, applied},
		"higher by lower":    {low, headData, applied},
		"lower by higher":    {equal, lowData, aside},
		"anyone by the root": {w.root, headData, aside},
		"itself":             {head, headData, applied},
	} {
		fork := *w
		fork.facts = append([]*fact(nil), w.facts...)
		by, of := *c.by, *c.of
		by.w, of.w = &fork, &fork
		f := of.write(shared(1), value(1, "x"))
		by.cut(of.device, entry.BeyondNothing, nil)
		lap := fork.all()
		check(t, name, lap.status[f.id], c.status)
		_, admission := lap.verdict.Admission(of.cert)
		check(t, name+", as a peer", admission == merge.Revoked, c.status == aside)
	}
}

// Two directors of one rank cut each other: both cuts count, neither binds the
// other director, and both bind what ranks below. The root decides.
func TestRule22EqualsWhoCutEachOther(t *testing.T) {
	w := newWorld(1)
	one, oneData := w.director(w.root, 1)
	other, otherData := w.director(w.root, 1)
	cuts := []*fact{one.cut(other.device, entry.BeyondNothing, nil), other.cut(one.device, entry.BeyondNothing, nil)}
	writes := []*fact{oneData.write(board(1), value(1, "one")), otherData.write(board(1), value(1, "other"))}
	lap := w.all()
	lap.statuses(t, "cuts", cuts, applied, applied)
	lap.statuses(t, "writes", writes, applied, applied)
	check(t, "the board", lap.conflicts(board(1)), 1)
	lap.learn(w.root.cut(other.device, entry.BeyondNothing, nil))
	lap.statuses(t, "cuts, after the root spoke", cuts, applied, aside)
	lap.statuses(t, "writes, after the root spoke", writes, applied, aside)
}

// A cut of who cut: what the lower one said beyond the higher one's head falls.
func TestRule22HighestRankIsHeardFirst(t *testing.T) {
	w := newWorld(1)
	head, _ := w.director(w.root, 1)
	low, _ := w.director(head, 2)
	scout := w.scout(head, 3)
	f := scout.write(shared(1), value(1, "x"))
	before := low.at
	low.cut(scout.device, entry.BeyondNothing, nil)
	lap := w.all()
	check(t, "cut by the lower", lap.status[f.id], aside)
	lap.learn(head.cut(low.device, entry.BeyondNothing, []*fact{before}))
	check(t, "with the lower cut before", lap.status[f.id], applied)
}

func TestRule22ReadmissionNamesTheCut(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	l := w.scout(w.root, 1)
	old := three(l)
	cut := w.root.cut(l.device, entry.BeyondNothing, old[:1])
	unaware, aware := w.certificate(l.device, entry.RoleScout, 0, 2), w.certificate(l.device, entry.RoleScout, 0, 2)
	director.grant(unaware)
	director.grant(aware, cut)
	shut, open := three(w.open(l.device, unaware, false)), three(w.open(l.device, aware, false))
	lap := w.all()
	lap.statuses(t, "the old log", old, applied, aside, aside)
	lap.statuses(t, "a grant that doesn't name it", shut, aside, aside, aside)
	lap.statuses(t, "a grant that does", open, applied, applied, applied)
	lap.learn(w.root.cut(l.device, entry.BeyondNothing, old[:1]))
	lap.statuses(t, "a second cut binds it", open, aside, aside, aside)
}

// Raising a cut, once or twice, must not shut out whom a grant let through.
func TestRule22RaisingSparesTheReadmitted(t *testing.T) {
	w := newWorld(1)
	director, _ := w.director(w.root, 1)
	l := w.scout(director, 2)
	old := three(l)
	cut := director.cut(l.device, entry.BeyondNothing, old[:1])
	cert := w.certificate(l.device, entry.RoleScout, 0, 2)
	director.grant(cert, cut)
	readmitted := three(w.open(l.device, cert, false))
	for i := range 2 {
		cut = w.root.cut(l.device, entry.BeyondNothing, old[1+i:2+i], cut)
		lap := w.all()
		lap.statuses(t, "readmitted", readmitted, applied, applied, applied)
		check(t, "the old log", lap.status[old[1+i].id], applied)
		check(t, "standing cuts", len(lap.verdict.Cuts), 1)
		_, admission := lap.verdict.Admission(cert)
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
			equal.cut(l.device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, applied}},
		"raised by someone higher": {func(_ *world, high, _, _ *line, first *fact, l *line, facts []*fact) {
			high.cut(l.device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, applied}},
		"not raised by someone lower": {func(_ *world, _, _, low *line, first *fact, l *line, facts []*fact) {
			low.cut(l.device, entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, aside}},
		"a later cut that doesn't name it": {func(_ *world, _, equal, _ *line, _ *fact, l *line, facts []*fact) {
			equal.cut(l.device, entry.BeyondNothing, facts[2:])
		}, []merge.Status{applied, applied, aside}},
		"narrowed": {func(_ *world, _, equal, _ *line, first *fact, l *line, facts []*fact) {
			equal.cut(l.device, entry.BeyondNothing, facts[:1], first)
		}, []merge.Status{applied, aside, aside}},
		"narrowed in what is left beyond": {func(w *world, high, equal, _ *line, _ *fact, l *line, facts []*fact) {
			demoted := high.cut(l.device, entry.BeyondScout, facts[:1])
			equal.cut(l.device, entry.BeyondNothing, facts[2:], demoted)
		}, []merge.Status{applied, applied, aside}},
		"raised to a demotion": {func(_ *world, _, equal, _ *line, first *fact, l *line, facts []*fact) {
			equal.cut(l.device, entry.BeyondScout, facts[1:2], first)
		}, []merge.Status{applied, applied, applied}},
		"of another device": {func(w *world, _, equal, _ *line, first *fact, _ *line, facts []*fact) {
			equal.cut(w.newDevice(), entry.BeyondNothing, facts[2:], first)
		}, []merge.Status{applied, applied, aside}},
		"raised by one that is set aside": {func(w *world, high, equal, _ *line, first *fact, l *line, facts []*fact) {
			before := equal.at
			equal.cut(l.device, entry.BeyondNothing, facts[2:], first)
			w.root.cut(equal.device, entry.BeyondNothing, []*fact{before})
		}, []merge.Status{applied, applied, aside}},
	} {
		w := newWorld(1)
		high, _ := w.director(w.root, 1)
		author, _ := w.director(high, 2)
		equal, _ := w.director(high, 2)
		low, _ := w.director(author, 3)
		l := w.scout(high, 4)
		facts := three(l)
		first := author.cut(l.device, entry.BeyondNothing, facts[1:2])
		c.second(w, high, equal, low, first, l, facts)
		w.all().statuses(t, name, facts, c.want...)
	}
}

// A cut that accepts more of one log and less of another raises nothing, and
// one that leaves less beyond doesn't either, though its heads lie higher.
func TestRule22RaisingHereAndNarrowingThere(t *testing.T) {
	w := newWorld(1)
	l := w.scout(w.root, 1)
	here, there := three(l), three(w.open(l.device, l.cert, false))
	first := w.root.cut(l.device, entry.BeyondNothing, []*fact{here[0], there[1]})
	w.root.cut(l.device, entry.BeyondNothing, []*fact{here[2], there[0]}, first)
	lap := w.all()
	check(t, "standing cuts", len(lap.verdict.Cuts), 2)
	lap.statuses(t, "here", here, applied, aside, aside)
	lap.statuses(t, "there", there, applied, aside, aside)

	w = newWorld(1)
	_, data := w.director(w.root, 1)
	writes := []*fact{data.write(board(1), value(1, "1")), data.write(board(1), value(1, "2")), data.write(shared(1), value(1, "3"))}
	demoted := w.root.cut(data.device, entry.BeyondScout, writes[:1])
	w.root.cut(data.device, entry.BeyondNothing, writes[2:], demoted)
	writes = append(writes, data.write(shared(1), value(1, "4")))
	lap = w.all()
	check(t, "standing cuts", len(lap.verdict.Cuts), 2)
	lap.statuses(t, "demoted, then revoked", writes, applied, merge.NoRight, applied, aside)
}

// A cut that names one branch of a forked log shuts out the other one from
// where they part, and one that names both accepts both.
func TestRule22ACutOfAForkedLog(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		w := newWorld(1)
		l := w.scout(w.root, 1)
		trunk := three(l)
		clone := l.fork(trunk[2])
		left, right := three(l), three(clone)
		if swapped {
			left, right = right, left
		}
		first := w.root.cut(l.device, entry.BeyondNothing, left[1:2])
		lap := w.all()
		lap.statuses(t, "trunk", trunk, applied, applied, applied)
		lap.statuses(t, "named", left, applied, applied, aside)
		lap.statuses(t, "not named", right, aside, aside, aside)
		lap.learn(w.root.cut(l.device, entry.BeyondNothing, []*fact{left[1], right[0]}, first))
		lap.statuses(t, "named, after raising", left, applied, applied, aside)
		lap.statuses(t, "the other, after raising", right, applied, aside, aside)
	}
}

// A head that isn't held proves nothing: its log waits, and no cut counts as
// raised to it.
func TestRule23AHeadThatIsNotHeldWaits(t *testing.T) {
	w := newWorld(1)
	l := w.scout(w.root, 1)
	facts := three(l)
	cut := w.root.cut(l.device, entry.BeyondNothing, facts[1:2])
	lap := w.read(without(w.facts, facts[1])...)
	lap.statuses(t, "head not held", facts[:1], aside)
	lap.learn(facts[1:]...)
	lap.statuses(t, "head held", facts, applied, applied, aside)

	w.root.cut(l.device, entry.BeyondNothing, facts[2:], cut)
	lap = w.read(without(w.facts, facts[2])...)
	check(t, "standing cuts", len(lap.verdict.Cuts), 2)
	lap.statuses(t, "raised to a head not held", facts[:2], aside, aside)
	lap.learn(facts[2])
	check(t, "standing cuts", len(lap.verdict.Cuts), 1)
	lap.statuses(t, "raised", facts, applied, applied, applied)
}

// Whether a head that isn't held lies below another one can't be told, so the
// cut that names it stands.
func TestRule23NoCutIsRaisedFromAHeadThatIsNotHeld(t *testing.T) {
	w := newWorld(1)
	l := w.scout(w.root, 1)
	clone := l.fork(l.at)
	left, right := three(l), three(clone)
	first := w.root.cut(l.device, entry.BeyondNothing, left[:1])
	w.root.cut(l.device, entry.BeyondNothing, right[:1], first)
	for name, facts := range map[string][]*fact{"held": w.facts, "not held": without(w.facts, left[0])} {
		lap := w.read(facts...)
		check(t, name+": standing cuts", len(lap.verdict.Cuts), 2)
		lap.statuses(t, name, right, aside, aside, aside)
	}
}

// What a newer program can say in a control entry stops folding: it could mean
// anything. What never counted doesn't.
func TestRule24ANewerControlEntryStopsFolding(t *testing.T) {
	unknown := entry.Body{Kind: 77, Unknown: []byte("later")}
	certificate := func(w *world) []byte {
		cert := w.certificate(w.newDevice(), entry.RoleScout, 0, 2)
		cert[0] = entry.Version + 1
		return cert
	}
	for name, c := range map[string]struct {
		put   func(w *world, director, data *line)
		newer int
	}{
		"a kind":                        {func(_ *world, d, _ *line) { d.put("", unknown) }, 1},
		"what a cut leaves":             {func(w *world, d, _ *line) { d.cut(w.newDevice(), 2, nil) }, 1},
		"a certificate's format":        {func(w *world, d, _ *line) { d.grant(certificate(w)) }, 1},
		"a grant that can't be read":    {func(_ *world, d, _ *line) { d.grant([]byte{1, 2, 3}) }, 0},
		"a kind in a log of records":    {func(_ *world, _, data *line) { data.put(shared(1), unknown) }, 0},
		"a kind in a log that was cut":  {func(w *world, d, _ *line) { w.root.cut(d.device, 0, nil); d.put("", unknown) }, 0},
		"a kind after a demotion":       {func(w *world, d, _ *line) { w.root.cut(d.device, 1, nil); d.put("", unknown) }, 0},
		"a kind before its log was cut": {func(w *world, d, _ *line) { w.root.cut(d.device, 0, []*fact{d.put("", unknown)}) }, 1},
	} {
		w := newWorld(1)
		director, data := w.director(w.root, 1)
		c.put(w, director, data)
		lap := w.all()
		check(t, name, len(lap.verdict.Newer), c.newer)
	}
}

package merge_test

import (
	"slices"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// A history is a world in which the random steps of one run were taken. Most
// steps make no sense to a person: forks everywhere, cuts by anyone of anyone,
// values replaced that the author can't have seen. Whatever was written, all
// laptops have to come to one outcome.
type history struct {
	*world
	t       *rapid.T
	devices []device
	certs   map[entry.DeviceID][][]byte
	control []*line
	data    []*line
	cuts    []*fact
	records []entry.RecordID
}

func drawHistory(t *rapid.T) *history {
	h := &history{world: newWorld(uint64(rapid.Uint32().Draw(t, "world"))), t: t, certs: map[entry.DeviceID][][]byte{}}
	h.control = []*line{h.root}
	h.member(h.root, entry.RoleDirector, 1)
	h.member(h.root, entry.RoleDirector, 1)
	h.member(h.control[1], entry.RoleDirector, 2)
	h.member(h.control[2], entry.RoleScout, 2)
	h.member(h.control[3], entry.RoleScout, 3)
	scout := h.data[len(h.data)-1]
	a, b, c := shared(1), shared(2), shared(3)
	h.records = []entry.RecordID{
		a, b, c, board(1), owned(kindLook, scout, 1), owned(kindRep, scout, 1),
		entry.SameAsID(a, b), entry.SameAsID(b, c), entry.SameAsID(a, c),
	}
	steps := []func(){
		h.write, h.write, h.write, h.write, h.write, h.write, h.join, h.join, h.forkLine, h.forkLine, h.openLog,
		h.admit, h.cutDevice, h.cutDevice, h.raiseCut, h.retireRecord, h.retireRecord, h.keepRecord, h.eraseSome, h.rest,
	}
	for range rapid.IntRange(0, 35).Draw(t, "steps") {
		pick(h, "step", steps)()
	}
	return h
}

// member admits a new person and opens what logs they need.
func (h *history) member(by *line, role entry.Role, depth int) {
	d := h.newDevice()
	h.devices = append(h.devices, d)
	cert := h.certificate(d, role, 0, depth)
	h.certs[d.id()] = append(h.certs[d.id()], cert)
	by.grant(cert)
	h.data = append(h.data, h.open(d, cert, false))
	if role == entry.RoleDirector {
		h.control = append(h.control, h.open(d, cert, true))
	}
}

// pick draws by number: the facts themselves would fill screens when a run that
// failed is printed.
func pick[T any](h *history, what string, from []T) T {
	return from[rapid.IntRange(0, len(from)-1).Draw(h.t, what)]
}

// some draws a few of them, none if there are none.
func some[T any](h *history, what string, from []T, most int) (few []T) {
	if len(from) == 0 {
		return nil
	}
	for range rapid.IntRange(0, most).Draw(h.t, what+" count") {
		few = append(few, pick(h, what, from))
	}
	return few
}

func (h *history) that(keep func(*fact) bool) (list []*fact) {
	for _, f := range h.facts {
		if keep(f) {
			list = append(list, f)
		}
	}
	return list
}

func (h *history) on(record entry.RecordID) []*fact {
	return h.that(func(f *fact) bool { return f.header.Record == record })
}

func (h *history) written(l *line, record entry.RecordID, body entry.Body) {
	held := pick(h, "held", []uint64{h.held(), h.held(), 0, 1 << 40})
	l.putHolding(record, body, held)
}

func (h *history) write() {
	record := pick(h, "record", h.records[:6])
	var changes []entry.Change
	for range rapid.IntRange(1, 3).Draw(h.t, "changes") {
		c := entry.Change{
			Register: pick(h, "register", []entry.Register{reg(1), reg(2), {Field: 3, Keyed: true}, {Field: 3, Keyed: true, Key: "k"}}),
			Op:       pick(h, "op", []entry.Op{entry.OpValue, entry.OpValue, entry.OpReference, entry.OpClear, 3}),
			Replaces: ids(some(h, "replaces", h.on(record), 3)),
		}
		switch c.Op {
		case entry.OpValue, 3:
			c.Value = []byte(pick(h, "value", []string{"", "x", "y"}))
		case entry.OpReference:
			c.Value = []byte(pick(h, "reference", append(h.records[:6:6], "no record")))
		}
		changes = append(changes, c)
	}
	h.written(pick(h, "by", h.data), record, entry.Body{Kind: entry.KindChanges, Changes: changes})
}

// join says of two prospects that they are, or are not, one.
func (h *history) join() {
	pair := pick(h, "pair", [][2]entry.RecordID{{h.records[0], h.records[1]}, {h.records[1], h.records[2]}, {h.records[0], h.records[2]}})
	record := entry.SameAsID(pair[0], pair[1])
	verdict := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: pick(h, "verdict", [][]byte{merge.Yes, merge.Yes, merge.No})}
	verdict.Replaces = ids(some(h, "replaces", h.on(record), 3))
	h.written(pick(h, "by", h.data), record, entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{
		verdict, refer(merge.SameFirst, pair[0]), refer(merge.SameSecond, pair[1]),
	}})
}

func (h *history) forkLine() {
	lines := &h.data
	if rapid.Bool().Draw(h.t, "fork control") {
		lines = &h.control
	}
	l := pick(h, "line", *lines)
	at := pick(h, "after", h.that(func(f *fact) bool { return f.first == l.at.first }))
	clone := l.fork(at)
	*lines = append(*lines, clone)
	if lines == &h.data {
		for _, end := range []*line{l, clone, l, clone} {
			end.write(pick(h, "record", h.records[:6]), value(1, "z"))
		}
	}
}

func (h *history) openLog() {
	d := pick(h, "device", h.devices)
	cert := pick(h, "certificate", h.certs[d.id()])
	if rapid.Bool().Draw(h.t, "control") {
		h.control = append(h.control, h.open(d, cert, true))
	} else {
		h.data = append(h.data, h.open(d, cert, false))
	}
}

// admit grants a certificate, an old one again or a new one of any rank.
func (h *history) admit() {
	d := pick(h, "device", h.devices)
	certs := h.certs[d.id()]
	cert := pick(h, "certificate", certs)
	if rapid.Bool().Draw(h.t, "new") {
		role := pick(h, "role", []entry.Role{entry.RoleScout, entry.RoleDirector, 9})
		cert = h.certificate(d, role, pick(h, "generation", []uint64{0, 0, 0, 1}), rapid.IntRange(1, 4).Draw(h.t, "depth"))
		h.certs[d.id()] = append(certs, cert)
		h.data = append(h.data, h.open(d, cert, false))
		h.control = append(h.control, h.open(d, cert, true))
	}
	pick(h, "by", h.control).grant(cert, some(h, "readmits", h.cuts, 2)...)
}

func (h *history) cutDevice() {
	d := pick(h, "device", h.devices)
	heads := some(h, "heads", h.by(d), 5)
	if rapid.Bool().Draw(h.t, "of a forked log") {
		if forked := h.forked(h.by(d)); len(forked) > 0 {
			heads = append(heads, pick(h, "head", forked))
		}
	}
	h.cut(d, heads, pick(h, "beyond", []entry.Beyond{entry.BeyondNothing, entry.BeyondScout}), some(h, "replaces", h.cuts, 1))
}

func (h *history) by(d device) []*fact {
	return h.that(func(f *fact) bool { return entry.DeviceOf(f.first.body.Genesis.Device) == d.id() })
}

// forked narrows to entries beside which another one has their number.
func (h *history) forked(facts []*fact) (list []*fact) {
	for _, f := range facts {
		if slices.ContainsFunc(facts, func(g *fact) bool { return g != f && g.first == f.first && g.id.Seq == f.id.Seq }) {
			list = append(list, f)
		}
	}
	return list
}

func (h *history) cut(d device, heads []*fact, beyond entry.Beyond, replaces []*fact) {
	h.cuts = append(h.cuts, pick(h, "by", h.control).cut(d, beyond, heads, replaces...))
}

// raiseCut writes a cut that accepts more than an earlier one, if only just.
func (h *history) raiseCut() {
	if len(h.cuts) == 0 {
		return
	}
	low := pick(h, "raised", h.cuts)
	i := slices.IndexFunc(h.devices, func(d device) bool { return d.id() == low.body.Cut.Device })
	heads := h.that(func(f *fact) bool { return slices.Contains(low.body.Cut.Heads, f.id) })
	for i, head := range heads {
		heads[i] = pick(h, "later head", h.that(func(f *fact) bool {
			for f != nil && f != head {
				f = f.prev
			}
			return f == head
		}))
	}
	h.cut(h.devices[i], heads, pick(h, "beyond", []entry.Beyond{entry.BeyondNothing, entry.BeyondScout}), []*fact{low})
}

func (h *history) retireRecord() {
	record := pick(h, "record", h.records)
	var t entry.Retirement
	if rapid.Bool().Draw(h.t, "read all") {
		t.Heads = ids(without(h.that(func(f *fact) bool { return f.header.Record != "" }), some(h, "but", h.on(record), 1)...))
	} else {
		t.Heads = ids(append(some(h, "heads", h.facts, 4), some(h, "forked heads", h.forked(h.on(record)), 2)...))
	}
	t.SetAside = ids(some(h, "set aside", h.on(record), 1))
	h.written(pick(h, "by", h.data), record, entry.Body{Kind: entry.KindRetirement, Retirement: &t})
}

func (h *history) keepRecord() {
	h.written(pick(h, "by", h.data), pick(h, "record", h.records), entry.Body{Kind: entry.KindKeep})
}

func (h *history) eraseSome() {
	var e entry.Erasure
	for _, f := range some(h, "erased", h.that(func(f *fact) bool { return f.body.Kind == entry.KindChanges }), 2) {
		x := entry.ErasedEntry{ID: f.id, Record: f.header.Record}
		for r, c := range lastOfEach(f.body.Changes) {
			x.Edges = append(x.Edges, entry.Edge{Register: r, Replaces: c.Replaces})
		}
		slices.SortFunc(x.Edges, func(a, b entry.Edge) int { return int(a.Field) - int(b.Field) })
		e.Entries = append(e.Entries, x)
	}
	if rapid.IntRange(0, 4).Draw(h.t, "whole record") == 0 {
		e.Records = []entry.RecordID{pick(h, "erased record", h.records)}
	}
	pick(h, "by", h.control).erase(e)
}

// rest is what is seldom: link keys, kinds that nobody knows yet, entries in
// logs that have no business there.
func (h *history) rest() {
	key := entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{}}
	unknown := entry.Body{Kind: 77, Unknown: []byte("later")}
	switch rapid.IntRange(0, 9).Draw(h.t, "rest") {
	case 0:
		pick(h, "by", h.control).put("", unknown)
	case 1, 2:
		pick(h, "by", h.data).put(pick(h, "record", h.records), unknown)
	case 3:
		pick(h, "by", h.data).put("", key)
	case 4:
		pick(h, "by", h.control).write(pick(h, "record", h.records), value(1, "x"))
	default:
		pick(h, "by", h.control).put("", key)
	}
}

// arrival draws facts in an order in which they could arrive at a laptop:
// whatever lies before one in its log comes first.
func (h *history) arrival(facts []*fact, label string) (order []*fact) {
	seen := map[*fact]bool{}
	var take func(*fact)
	take = func(f *fact) {
		if f != nil && !seen[f] {
			take(f.prev)
			seen[f] = true
			order = append(order, f)
		}
	}
	numbers := make([]int, len(facts))
	for i := range numbers {
		numbers[i] = i
	}
	for _, i := range rapid.Permutation(numbers).Draw(h.t, label) {
		take(facts[i])
	}
	return order
}

// part draws what a laptop holds that hasn't heard everything.
func (h *history) part(label string) []*fact { return without(h.facts, some(h, label, h.facts, 4)...) }

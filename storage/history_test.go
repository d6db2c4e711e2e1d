package storage

import (
	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// randomHistory is a world in which the random steps of one run were taken:
// forks anywhere, cuts by anyone of anyone, values replaced that their author
// can't have seen. Most of it makes no sense to a person.
type randomHistory struct {
	*world
	t       *rapid.T
	devices []device
	control []*line
	data    []*line
	cuts    []*fact
	records []entry.RecordID
}

func drawHistory(t *rapid.T, most int) *randomHistory {
	h := &randomHistory{world: newWorld(rapid.Uint32().Draw(t, "world")), t: t}
	h.control = []*line{h.root}
	h.member(h.root, entry.RoleDirector, 1)
	h.member(h.control[1], entry.RoleDirector, 2)
	h.member(h.control[2], entry.RoleScout, 3)
	h.member(h.control[1], entry.RoleScout, 2)
	scout := h.data[len(h.data)-1]
	a, b, c := prospect(1), prospect(2), prospect(3)
	h.records = []entry.RecordID{
		a, b, c, board(1), owned(kindLook, scout, 1), owned(kindRep, scout, 1), owned(kindRep, scout, 2),
		entry.SameAsID(a, b), entry.SameAsID(b, c),
	}
	steps := []func(){
		h.write, h.write, h.write, h.write, h.write, h.hang, h.hang, h.join, h.forkLine, h.openLog,
		h.admit, h.cutDevice, h.retireRecord, h.retireRecord, h.retireRecord, h.keepRecord, h.eraseSome, h.eraseSome, h.rest,
	}
	for range rapid.IntRange(0, most).Draw(t, "steps") {
		pick(h, "step", steps)()
	}
	return h
}

// pick draws by number: the facts themselves would fill screens when a run
// that failed is printed.
func pick[T any](h *randomHistory, what string, from []T) T {
	return from[rapid.IntRange(0, len(from)-1).Draw(h.t, what)]
}

func some[T any](h *randomHistory, what string, from []T, most int) (few []T) {
	if len(from) == 0 {
		return nil
	}
	for range rapid.IntRange(0, most).Draw(h.t, what+" count") {
		few = append(few, pick(h, what, from))
	}
	return few
}

func (h *randomHistory) that(keep func(*fact) bool) (list []*fact) {
	for _, f := range h.facts {
		if keep(f) {
			list = append(list, f)
		}
	}
	return list
}

func (h *randomHistory) on(record entry.RecordID) []*fact {
	return h.that(func(f *fact) bool { return f.Header.Record == record })
}

// member admits a new person and opens what logs they need.
func (h *randomHistory) member(by *line, role entry.Role, depth int) {
	d := h.newDevice()
	h.devices = append(h.devices, d)
	cert := h.certificate(d, role, depth)
	by.grant(cert)
	h.data = append(h.data, h.open(d, cert, false))
	if role == entry.RoleDirector {
		h.control = append(h.control, h.open(d, cert, true))
	}
}

func (h *randomHistory) write() {
	record := pick(h, "record", h.records[:7])
	var changes []entry.Change
	for range rapid.IntRange(1, 3).Draw(h.t, "changes") {
		changes = append(changes, entry.Change{
			Register: pick(h, "register", []entry.Register{reg(1), reg(2), {Field: 3, Keyed: true, Key: "k"}}),
			Op:       pick(h, "op", []entry.Op{entry.OpValue, entry.OpValue, entry.OpClear}),
			Value:    []byte(pick(h, "value", []string{"", "oak", "elm ash"})),
			Replaces: ids(some(h, "replaces", h.on(record), 3)),
		})
	}
	pick(h, "by", h.data).write(record, changes...)
}

// hang makes one record refer to another, or to something that is no record.
func (h *randomHistory) hang() {
	record := pick(h, "record", h.records[4:7])
	to := refer(4, pick(h, "reference", append(h.records[:7:7], prospect(9), "no record")))
	to.Replaces = ids(some(h, "replaces", h.on(record), 3))
	pick(h, "by", h.data).write(record, to)
}

func (h *randomHistory) join() {
	pair := pick(h, "pair", [][2]entry.RecordID{{h.records[0], h.records[1]}, {h.records[1], h.records[2]}})
	record := entry.SameAsID(pair[0], pair[1])
	verdict := entry.Change{Register: reg(merge.SameVerdict), Op: entry.OpValue, Value: pick(h, "verdict", [][]byte{merge.Yes, merge.Yes, merge.No})}
	verdict.Replaces = ids(some(h, "replaces", h.on(record), 3))
	pick(h, "by", h.data).write(record, verdict, refer(merge.SameFirst, pair[0]), refer(merge.SameSecond, pair[1]))
}

func (h *randomHistory) forkLine() {
	lines := &h.data
	if rapid.IntRange(0, 3).Draw(h.t, "fork control") == 0 {
		lines = &h.control
	}
	l := pick(h, "line", *lines)
	at := pick(h, "after", h.that(func(f *fact) bool { return f.first == l.at.first }))
	*lines = append(*lines, l.fork(at))
}

func (h *randomHistory) openLog() {
	l := pick(h, "line", h.data)
	h.data = append(h.data, h.open(l.device, l.cert, false))
}

func (h *randomHistory) admit() {
	d := pick(h, "device", h.devices)
	cert := h.certificate(d, pick(h, "role", []entry.Role{entry.RoleScout, entry.RoleDirector}), rapid.IntRange(1, 4).Draw(h.t, "depth"))
	h.data = append(h.data, h.open(d, cert, false))
	h.control = append(h.control, h.open(d, cert, true))
	pick(h, "by", h.control).grant(cert, some(h, "readmits", h.cuts, 2)...)
}

func (h *randomHistory) cutDevice() {
	d := pick(h, "device", h.devices)
	heads := some(h, "heads", h.that(func(f *fact) bool {
		return entry.DeviceOf(f.first.body.Genesis.Device) == d.id()
	}), 4)
	beyond := pick(h, "beyond", []entry.Beyond{entry.BeyondNothing, entry.BeyondScout})
	h.cuts = append(h.cuts, pick(h, "by", h.control).cut(d, beyond, heads, some(h, "replaces", h.cuts, 1)...))
}

func (h *randomHistory) retireRecord() {
	record := pick(h, "record", h.records)
	var r entry.Retirement
	if rapid.Bool().Draw(h.t, "read all") {
		r.Heads = ids(h.that(func(f *fact) bool { return f.Header.Record != "" }))
	} else {
		r.Heads = ids(some(h, "heads", h.facts, 4))
	}
	r.SetAside = ids(some(h, "set aside", h.on(record), 1))
	pick(h, "by", h.data).retire(record, r)
}

func (h *randomHistory) keepRecord() {
	pick(h, "by", h.data).put(pick(h, "record", h.records), entry.Body{Kind: entry.KindKeep})
}

func (h *randomHistory) eraseSome() {
	var e entry.Erasure
	for _, f := range some(h, "erased", h.that(func(f *fact) bool { return f.body.Kind == entry.KindChanges }), 2) {
		x := entry.ErasedEntry{ID: f.id, Record: f.Header.Record}
		for _, c := range f.body.Changes {
			x.Edges = append(x.Edges, entry.Edge{Register: c.Register, Replaces: c.Replaces})
		}
		e.Entries = append(e.Entries, x)
	}
	if rapid.IntRange(0, 4).Draw(h.t, "whole record") == 0 {
		e.Records = []entry.RecordID{pick(h, "erased record", append(h.records, prospect(9)))}
	}
	pick(h, "by", h.control).erase(e)
}

// rest is what is seldom: kinds that nobody knows yet, entries in logs that
// have no business there.
func (h *randomHistory) rest() {
	unknown := entry.Body{Kind: 77, Unknown: []byte("later")}
	switch rapid.IntRange(0, 7).Draw(h.t, "rest") {
	case 0:
		pick(h, "by", h.control).put("", unknown)
	case 1, 2:
		pick(h, "by", h.data).put(pick(h, "record", h.records), unknown)
	case 3:
		pick(h, "by", h.data).put("", entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{}})
	case 4:
		pick(h, "by", h.control).write(pick(h, "record", h.records), value(1, "oak"))
	default:
		pick(h, "by", h.control).put("", entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{}})
	}
}

// arrival draws an order in which facts could arrive: whatever lies before one
// in its log comes first.
func (h *randomHistory) arrival(facts []*fact, label string) (order []*fact) {
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

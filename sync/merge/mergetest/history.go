package mergetest

import (
	"pgregory.net/rapid"

	"plumbline/sync/entry"
)

// History is a world in which the random steps of one run were taken. Most
// steps make no sense to a person: forks everywhere, cuts by anyone of anyone,
// values replaced that the author can't have seen. Whatever was written, all
// laptops have to come to one outcome.
type History struct {
	*World
	Devices []Device
	Control []*Line
	Data    []*Line
	Cuts    []*Fact
	Records []entry.RecordID
	certs   map[entry.DeviceID][][]byte
	t       *rapid.T
}

// The records of a history: these many that are no verdicts on two being one,
// and the look and reps among them, which refer to others.
const (
	plain = 7
	looks = 4
)

// Draw writes a history of at most so many steps.
func Draw(t *rapid.T, most int) *History {
	h := &History{World: NewWorld(rapid.Uint32().Draw(t, "world")), t: t, certs: map[entry.DeviceID][][]byte{}}
	h.Control = []*Line{h.Root}
	h.member(h.Root, entry.RoleDirector, 1)
	h.member(h.Root, entry.RoleDirector, 1)
	h.member(h.Control[1], entry.RoleDirector, 2)
	h.member(h.Control[2], entry.RoleScout, 2)
	h.member(h.Control[3], entry.RoleScout, 3)
	scout := h.Data[len(h.Data)-1]
	a, b, c := Prospect(1), Prospect(2), Prospect(3)
	h.Records = []entry.RecordID{
		a, b, c, Board(1), scout.Look(1), scout.Rep(1), scout.Rep(2),
		entry.SameAsID(a, b), entry.SameAsID(b, c), entry.SameAsID(a, c),
	}
	steps := h.steps()
	for range rapid.IntRange(0, most).Draw(t, "steps") {
		Pick(t, "step", steps)()
	}
	return h
}

// steps lists what can happen. In a third of the histories nobody is cut or
// comes anew: where most entries are set aside, records have little left to
// agree on.
func (h *History) steps() []func() {
	steps := []func(){
		h.write, h.write, h.write, h.write, h.write, h.hang, h.hang, h.join, h.join, h.forkLine,
		h.retire, h.retire, h.retire, h.keep, h.erase,
	}
	if rapid.IntRange(0, 2).Draw(h.t, "unrest") == 0 {
		return steps
	}
	return append(steps, h.write, h.forkLine, h.openLog, h.admit, h.cutDevice, h.cutDevice, h.raiseCut, h.erase, h.rest)
}

// member admits a new person and opens what logs they need.
func (h *History) member(by *Line, role entry.Role, depth int) {
	d := h.NewDevice()
	h.Devices = append(h.Devices, d)
	cert := h.Certificate(d, role, 0, depth)
	h.certs[d.ID()] = append(h.certs[d.ID()], cert)
	by.Grant(cert)
	h.Data = append(h.Data, h.Open(d, cert, false))
	if role == entry.RoleDirector {
		h.Control = append(h.Control, h.Open(d, cert, true))
	}
}

// Pick draws by number: the facts themselves would fill screens when a run that
// failed is printed.
func Pick[T any](t *rapid.T, what string, from []T) T {
	return from[rapid.IntRange(0, len(from)-1).Draw(t, what)]
}

// Some draws a few of them, none if there are none.
func Some[T any](t *rapid.T, what string, from []T, most int) (few []T) {
	if len(from) == 0 {
		return nil
	}
	for range rapid.IntRange(0, most).Draw(t, what+" count") {
		few = append(few, Pick(t, what, from))
	}
	return few
}

// That lists the facts of which something holds.
func (h *History) That(keep func(*Fact) bool) (list []*Fact) {
	for _, f := range h.Facts {
		if keep(f) {
			list = append(list, f)
		}
	}
	return list
}

func (h *History) on(record entry.RecordID) []*Fact {
	return h.That(func(f *Fact) bool { return f.Header.Record == record })
}

func (h *History) by(d Device) []*Fact {
	return h.That(func(f *Fact) bool { return f.By.ID() == d.ID() })
}

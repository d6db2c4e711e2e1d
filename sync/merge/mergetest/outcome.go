package mergetest

import (
	"fmt"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Outcome collects what laptops that hold the same must agree on. It names
// entries by their ids, never by local numbers.
type Outcome struct{ lines []string }

// String is the same text in whatever order things were said. What was said
// twice stands in it twice.
func (o *Outcome) String() string {
	slices.Sort(o.lines)
	return strings.Join(o.lines, "\n")
}

func (o *Outcome) say(format string, args ...any) {
	o.lines = append(o.lines, fmt.Sprintf(format, args...))
}

// Entry says what became of an entry.
func (o *Outcome) Entry(id entry.ID, status merge.Status) { o.say("entry %s status %d", id, status) }

// Grant says that a certificate is granted.
func (o *Outcome) Grant(id entry.CertificateID) { o.say("grant %s", id) }

// Cut says that a cut stands.
func (o *Outcome) Cut(id entry.ID) { o.say("cut %s", id) }

// LinkKey says that a link key counts, and whether it may open links.
func (o *Outcome) LinkKey(id entry.ID, usable bool) { o.say("link key %s usable %v", id, usable) }

// Newer says that a control entry counts that only newer programs read.
func (o *Outcome) Newer(id entry.ID) { o.say("newer %s", id) }

// Live says which value is in a place of a register, the shown one in 0.
func (o *Outcome) Live(record entry.RecordID, r entry.Register, place int, id entry.ID, op entry.Op, data []byte) {
	o.say("record %s register %v place %d: %s = %d %x", record, r, place, id, op, data)
}

// Visibility says whether a record is hidden.
func (o *Outcome) Visibility(record entry.RecordID, v merge.Visibility) {
	o.say("record %s visibility %d", record, v)
}

// Group says which record speaks for the ones that a record is one with.
func (o *Outcome) Group(record, leader entry.RecordID) { o.say("record %s group %s", record, leader) }

// Torn says of two records in one group that they aren't one.
func (o *Outcome) Torn(a, b entry.RecordID) { o.say("torn %s %s", a, b) }

// Record says what is live of a record.
func (o *Outcome) Record(r *merge.Record) {
	for _, reg := range r.Registers {
		for place, v := range reg.Live {
			o.Live(r.ID, reg.Register, place, v.ID, v.Op, v.Data)
		}
	}
}

// Verdict says which control entries count.
func (o *Outcome) Verdict(v *merge.Verdict) {
	for id := range v.Grants {
		o.Grant(id)
	}
	for _, cut := range v.Cuts {
		o.Cut(cut.ID)
	}
	for _, key := range v.LinkKeys {
		o.LinkKey(key.ID, key.Usable)
	}
	for _, id := range v.Newer {
		o.Newer(id)
	}
}

// Groups says which of the records are one.
func (o *Outcome) Groups(g *merge.Groups, records []entry.RecordID) {
	for _, id := range records {
		o.Group(id, g.Leader(id))
	}
	for _, p := range g.Torn {
		o.Torn(p.A, p.B)
	}
}

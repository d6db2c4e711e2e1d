package node

import (
	"time"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// A wrong year in a date would outrank all that comes after it. Only what is written
// here is held to this laptop's clock, which may be wrong itself: what is stored, or
// comes from others, stays.

// allowed holds a value that is to be written to what the schema can't know: the
// staff's factors, and today.
func (w *writer) allowed(reg record.Register, v record.Value) error {
	if err := w.factor(reg, v.Op); err != nil {
		return err
	}
	return w.day(reg, v)
}

// horizon is how far from today the date of a field may lie: some days, as clocks
// differ and so do time zones, or two years for games that are scheduled.
type horizon struct {
	years, days int
	than        string
}

var horizons = map[*record.Field]horizon{
	record.Must(record.Measurement, "reading").Field: {days: 3, than: "later than"},
	filedOn.Field:                          {days: 3, than: "later than"},
	record.Must(record.Game, "date").Field: {years: 2, than: "more than two years after"},
}

// day refuses a date that lies beyond its field's horizon.
func (w *writer) day(reg record.Register, v record.Value) error {
	far, dated := horizons[reg.Field]
	if !dated || v.Op == entry.OpClear {
		return nil
	}
	plain, err := reg.Native(v)
	if err != nil {
		return err
	}
	name, date := reg.Field.Name, plain
	if parts, ok := plain.(map[string]any); ok {
		name, date = "date", parts["date"]
	}
	typed, _ := date.(string)
	today := w.n.cfg.Now()
	if typed <= today.AddDate(far.years, 0, far.days).Format(time.DateOnly) {
		return nil
	}
	return invalid(&record.Invalid{Path: name, Typed: typed, Reason: "the date is " + far.than + " this laptop's, which is " +
		today.Format(time.DateOnly) + "; correct it, or the laptop's clock if that one is wrong"})
}

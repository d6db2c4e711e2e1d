package sim

// kind is something that can happen.
type kind struct {
	name   string
	weight int
	// steady kinds happen in every run, the others in about half of them.
	steady bool
	do     func(*World, *dice)
}

// kinds lists what can happen. The order is part of what a seed means.
var kinds []kind

func init() {
	kinds = []kind{
		// People
		{"write", 20, true, (*World).write},
		{"write several", 3, false, (*World).writeSeveral},
		{"look", 5, true, (*World).look},
		{"refer", 4, false, (*World).refer},
		{"retire", 4, false, (*World).retire},
		{"keep", 4, true, (*World).keep},
		{"join records", 4, false, (*World).joinRecords},
		{"trespass", 2, false, (*World).trespass},
		{"leap", 2, false, (*World).leap},
		{"newer", 3, false, (*World).newer},
		// Directors
		{"erase", 2, false, (*World).erase},
		{"join", 2, false, (*World).join},
		{"join from alone", 1, false, (*World).joinAlone},
		{"revoke", 3, false, (*World).revoke},
		{"demote", 3, false, (*World).demote},
		{"accept", 8, true, (*World).accept},
		{"readmit", 2, false, (*World).readmit},
		{"promote", 1, false, (*World).promote},
		{"root", 1, false, (*World).rootStep},
		{"audit", 2, true, (*World).audit},
		// The network
		{"deliver", 30, true, (*World).deliverSome},
		{"link", 10, true, (*World).link},
		{"cut link", 3, false, (*World).cutLink},
		{"part", 2, false, (*World).part},
		{"heal", 4, true, (*World).heal},
		{"weather", 3, false, (*World).weather},
		// Machines
		{"start", 8, true, (*World).startOne},
		{"close", 3, false, (*World).closeOne},
		{"crash", 2, false, (*World).crash},
		{"crash soon", 4, false, (*World).crashSoon},
		{"disk error", 2, false, (*World).diskError},
		{"tidy", 2, false, (*World).tidy},
		{"clock", 3, false, (*World).turnClock},
		{"backup", 3, false, (*World).backup},
		{"restore", 2, false, (*World).restore},
		{"clone", 3, false, (*World).clone},
		{"roll back", 1, false, (*World).rollBack},
		{"destroy", 1, false, (*World).destroy},
		{"lie", 1, false, (*World).lie},
	}
}

func kindNamed(name string) func(*World, *dice) {
	for _, k := range kinds {
		if k.name == name {
			return k.do
		}
	}
	return func(*World, *dice) {}
}

// someone picks one of the laptops of which something holds, nil if there is none.
func (w *World) someone(d *dice, fits func(*Laptop) bool) *Laptop {
	roll := d.Uint64()
	var some []*Laptop
	for _, l := range w.laptops {
		if fits(l) {
			some = append(some, l)
		}
	}
	if len(some) == 0 {
		return nil
	}
	return some[roll%uint64(len(some))]
}

func running(l *Laptop) bool { return l.up != nil }

// writer is a running laptop that may write.
func writer(l *Laptop) bool {
	if l.up == nil {
		return false
	}
	_, _, ok := l.best()
	return ok
}

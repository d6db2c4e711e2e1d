package exchange

import "slices"

// line is pulls in the order in which they go on: those that are under way
// first, so that logs are finished one after the other. With a great many logs
// each step costs the same.
type line struct {
	underway []*pull // the last one goes on first
	fresh    []*pull
}

func (l *line) add(p *pull) {
	if p.next != nil {
		l.underway = append(l.underway, p)
		return
	}
	l.fresh = append(l.fresh, p)
}

// take takes the first pull that may go on, or nil.
func (l *line) take(may func(*pull) bool) *pull {
	for i := len(l.underway) - 1; i >= 0; i-- {
		if p := l.underway[i]; may(p) {
			l.underway = slices.Delete(l.underway, i, i+1)
			return p
		}
	}
	for i, p := range l.fresh {
		if !may(p) {
			continue
		}
		if i == 0 {
			l.fresh[0] = nil
			l.fresh = l.fresh[1:]
		} else {
			l.fresh = slices.Delete(l.fresh, i, i+1)
		}
		return p
	}
	return nil
}

// remove takes a pull out of the line; one that waits rarely ends.
func (l *line) remove(p *pull) {
	is := func(other *pull) bool { return other == p }
	l.underway, l.fresh = slices.DeleteFunc(l.underway, is), slices.DeleteFunc(l.fresh, is)
}

package demo

import "time"

// lastDay is one on which everything of the season has happened.
var lastDay = seasonStart.AddDate(0, 0, 90)

// Clock is a clock that shows the season's end at the earliest: the laptops of the
// invented staff live in its time, so that what they wrote isn't still to come.
func Clock(now func() time.Time) func() time.Time {
	return func() time.Time {
		if t := now(); t.After(lastDay) {
			return t
		}
		return lastDay
	}
}

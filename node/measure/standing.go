package measure

// Percentile returns where a value stands in a cohort, from 0 to 100: 100
// (below + half the equal) / n, and for measures of which less is better 100
// minus that. It is false for an empty cohort.
//
// This is the mid-rank percentile; a value alone in its cohort stands at 50.
func Percentile(cohort []float64, value float64, lessIsBetter bool) (float64, bool) {
	if len(cohort) == 0 {
		return 0, false
	}
	below, equal := 0, 0
	for _, other := range cohort {
		switch {
		case other < value:
			below++
		case other == value:
			equal++
		}
	}
	share := 100 * (float64(below) + float64(equal)/2) / float64(len(cohort))
	if lessIsBetter {
		share = 100 - share
	}
	return share, true
}

// LessIsBetter reports whether a smaller number is the better one, as with
// every time.
func (w What) LessIsBetter() bool { return w.Timed() }

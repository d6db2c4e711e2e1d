package exchange

import "iter"

// Back yields the sequence numbers at which a branch is sampled: its tip,
// then doubling distances back from it, then 1. However far two branches have
// grown apart, one of these lies at most twice as far back as they do.
func Back(tip uint64) iter.Seq[uint64] {
	return func(yield func(uint64) bool) {
		for step := uint64(0); step < tip; step = max(1, step*2) {
			if !yield(tip-step) || tip-step == 1 {
				return
			}
		}
		if tip > 0 {
			yield(1)
		}
	}
}

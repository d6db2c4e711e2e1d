package sim

import (
	"maps"

	"plumbline/sync/merge/mergetest"
)

// bytesPerTip is what a conversation may cost for each tip: both tell it, one asks
// for it, and what comes is framed and signed; link keys count as one more. That
// was measured as up to 200. A control entry, such as a cut, is passed on at once by
// everybody who hears of it, over each link: what comes in that way a second time is
// counted here, too, and with several cuts it was seen to double the cost.
const bytesPerTip = 480

// boundedBytes holds what was sent in the end against what was lacking: a
// conversation costs its tips, and each entry little more than its size. What was
// on its way over a link that a cut has ended is sent twice, and so may be what two
// branches of a log share, so this is about ends without either.
func (w *World) boundedBytes(gained, links int) {
	tips := 0
	for _, l := range w.laptops {
		if l.up != nil {
			tips = max(tips, len(l.up.store.Tips()))
		}
	}
	links += len(w.links) + 1
	if limit := gained + links*(tips+2)*bytesPerTip; w.sent > limit {
		w.fail("%d bytes were sent where %d were lacking, over %d links with %d tips", w.sent, gained, links, tips)
	}
}

// gained is how many bytes of entries laptops hold that they didn't hold before.
func (w *World) gained(before []map[*mergetest.Fact]bool) (size int) {
	for i, l := range w.laptops {
		for f := range l.held {
			if !before[i][f] {
				size += f.Size()
			}
		}
	}
	return size
}

func (w *World) holdings() (held []map[*mergetest.Fact]bool) {
	for _, l := range w.laptops {
		held = append(held, maps.Clone(l.held))
	}
	return held
}

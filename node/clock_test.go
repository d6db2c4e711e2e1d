package node

import (
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A laptop's clock is set back by forty years, and forward by as many, while it
// runs and between two runs. What was written later still counts as later, on
// every laptop; nothing is lost, refused or judged by it.
func TestTheClockIsSetBack(t *testing.T) {
	var clock atomic.Int64
	clock.Store(time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC).UnixMilli())
	a := found(t)
	b := newLaptop(t, "Tove Lund")
	b.cfg.Now = func() time.Time { return time.UnixMilli(clock.Load()) }
	b.restart()
	pair(t, a, b, "Tove Lund", false)
	connect(t, a, b)
	id := b.add("prospect", "name", "Orrin Vale", "school", "Stone Ferry")
	agree(t, a, b)
	for i, year := range []int{1986, 1960, 2066, 1986, 2026} { // 1960: before any system's clock begins
		clock.Store(time.Date(year, 3, 1, 12, 0, 0, 0, time.UTC).UnixMilli())
		if i%2 == 1 {
			b.restart()
			connect(t, a, b)
		}
		school := time.UnixMilli(clock.Load()).UTC().Format("School of 2006")
		b.set(id, "school", school)
		agree(t, a, b)
		for _, l := range []*laptop{a, b} {
			require.Equal(t, []string{school}, l.texts(id, "school"))
		}
		a.set(id, "school", "North Fork") // by the right clock
		agree(t, a, b)
		require.Equal(t, []string{"North Fork"}, b.texts(id, "school"))
	}
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return len(a.linked()) == 0 }, time.Minute, 10*time.Millisecond)
	pair(t, a, b, "Tove Lund", false)
	connect(t, a, b)
	for _, l := range []*laptop{a, b} {
		faults, err := l.Verify(t.Context(), func(uint64, uint64) {})
		require.NoError(t, err)
		require.Empty(t, faults)
		h, err := l.History(t.Context(), id.String())
		require.NoError(t, err)
		require.NotEmpty(t, h)
	}
}

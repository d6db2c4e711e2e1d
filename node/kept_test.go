package node

import (
	"fmt"
	"maps"
	"runtime"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is kept in memory of each prospect bounds what a staff of many years, and
// the laptop that catches up with it, takes: 30,000 of them at a kibibyte are
// 30 MiB. As maps they took nearly four times as much. Data is invented.
func TestAKeptProspectTakesLessThanAKibibyte(t *testing.T) {
	const prospects, most = summariesAtOnce + 100, 1024
	a := found(t)
	a.alone()
	var writes []Write
	for i := range prospects {
		writes = append(writes, Write{Kind: "prospect", Sets: sets([]string{
			"name", fmt.Sprint("Orrin Vale ", i), "position", "tackle", "school", fmt.Sprint("School ", i%40), "class_year", "2033",
		})})
	}
	ids, err := a.Write(t.Context(), writes)
	require.NoError(t, err)
	writes = writes[:0]
	for i, id := range ids {
		evaluation := []string{"prospect", id.String(), "overall", strconv.Itoa(1 + i%9)}
		for factor := range 15 { // about as many as a scout grades
			evaluation = append(evaluation, fmt.Sprint("grades.factor_", factor), strconv.Itoa(1+(i+factor)%9))
		}
		writes = append(writes, Write{Kind: "evaluation", Sets: sets(evaluation)})
	}
	_, err = a.Write(t.Context(), writes)
	require.NoError(t, err)
	_, err = a.List(t.Context(), ListQuery{})
	require.NoError(t, err)

	var o *overview
	least := uint64(prospects * most * 100)
	for range 5 { // something else may be at work
		o = nil
		before := liveHeap()
		o = &overview{}
		rows, err := o.all(a.reader(t.Context()))
		require.NoError(t, err)
		require.Len(t, rows, prospects)
		clear(rows)
		if after := liveHeap(); after > before {
			least = min(least, after-before)
		}
		runtime.KeepAlive(o)
	}
	t.Logf("%d bytes a prospect", least/prospects)
	require.Greater(t, least/prospects, uint64(100), "it is measured")
	require.Less(t, least/prospects, uint64(most))
}

func liveHeap() uint64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

func TestAFewIsTheSameMap(t *testing.T) {
	shared := newSharing()
	for _, m := range []map[string]any{nil, {}, {"arm": 33.25}, {"grades": 7.0, "arm": 33.25}, {"b": "x", "a": int64(1), "c": true}} {
		f := fewOf(shared, m, shared.value)
		require.Equal(t, len(m), len(maps.Collect(f.all())))
		for name, v := range m {
			got, ok := f.at(name)
			require.True(t, ok)
			require.Equal(t, v, got)
		}
		_, ok := f.at("missing")
		require.False(t, ok)
	}
}

package node

import (
	"context"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// Run under the race detector: two linked laptops, on each of which several
// people's worth of calls go on at once.
func TestConcurrentCalls(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	ctx, cancel := context.WithCancel(t.Context())
	var watching, working sync.WaitGroup
	for _, l := range []*laptop{a, b} {
		watching.Go(func() {
			for range l.Watch(ctx) {
				_, _ = l.Status(ctx)
			}
		})
		for w := range 3 {
			working.Go(func() {
				for i := range 8 {
					_, err := l.Write(ctx, []Write{{Kind: "prospect", Sets: sets([]string{"name", l.name + strconv.Itoa(w*100+i)})}})
					if err != nil {
						t.Error(err)
					}
					if _, err := l.List(ctx, ListQuery{Where: "conflicts == 0"}); err != nil {
						t.Error(err)
					}
				}
			})
		}
	}
	working.Wait()
	agree(t, a, b)
	cancel()
	watching.Wait()
	l, err := b.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 2*3*8)
}

// Closing while others write and ask: what was acknowledged is there at the next
// start, what wasn't is refused, and the logs go on.
func TestConcurrentCallsWhileTheNodeCloses(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	node := a.Node
	acknowledged := make([][]entry.RecordID, 4)
	begun := make(chan struct{}, 4)
	var working sync.WaitGroup
	for w := range acknowledged {
		working.Go(func() {
			for i := 0; ; i++ {
				ids, err := node.Write(context.Background(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Orrin Vale " + strconv.Itoa(w*1000+i)})}})
				if err != nil {
					return
				}
				acknowledged[w] = append(acknowledged[w], ids...)
				_, _ = node.List(context.Background(), ListQuery{})
				_, _ = node.Status(context.Background())
				if i == 3 {
					begun <- struct{}{}
				}
			}
		})
	}
	for range acknowledged {
		<-begun
	}
	logs := len(a.logs())
	a.stopNow()
	working.Wait()
	a.Node = open(t, a.cfg)
	for _, ids := range acknowledged {
		for _, id := range ids {
			require.NotEmpty(t, a.texts(id, "name"))
		}
	}
	a.add("prospect", "name", "Pim Rask")
	require.Len(t, a.logs(), logs)
	faults, err := a.Verify(t.Context(), func(uint64, uint64) {})
	require.NoError(t, err)
	require.Empty(t, faults)
}

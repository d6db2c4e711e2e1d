package node

import (
	"context"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
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

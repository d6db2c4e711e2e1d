package exchange_test

import (
	"slices"
	"testing"

	"plumbline/sync/exchange"
)

func TestBack(t *testing.T) {
	tests := map[uint64][]uint64{
		0:  nil,
		1:  {1},
		2:  {2, 1},
		3:  {3, 2, 1},
		4:  {4, 3, 2, 1},
		10: {10, 9, 8, 6, 2, 1},
	}
	for tip, want := range tests {
		if got := slices.Collect(exchange.Back(tip)); !slices.Equal(got, want) {
			t.Errorf("back from %d: %v, want %v", tip, got, want)
		}
	}
	if n := len(slices.Collect(exchange.Back(1 << 40))); n > 50 {
		t.Errorf("%d samples of a long branch", n)
	}
}

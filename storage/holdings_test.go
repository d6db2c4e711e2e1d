package storage

import (
	"context"
	"path/filepath"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

// growing is a store as the exchange's own tests want it.
type growing struct{ *Store }

func (g growing) Append(run entry.Run) ([]exchange.Tip, error) {
	o, err := g.Store.Append(context.Background(), run)
	return o.Tips, err
}

func TestConformsToTheExchange(t *testing.T) {
	exchangetest.Conform(t, func(t *testing.T, s *exchangetest.Staff) exchangetest.Store {
		return growing{openAt(t, filepath.Join(t.TempDir(), "plumbline.db"), Options{Staff: s.ID})}
	})
}

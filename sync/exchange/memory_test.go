package exchange_test

import (
	"testing"

	"plumbline/sync/exchange"
	"plumbline/sync/exchange/exchangetest"
)

func TestMemoryConforms(t *testing.T) {
	exchangetest.Conform(t, func(t *testing.T, s *exchangetest.Staff) exchangetest.Store { return exchange.NewMemory(s.ID) })
}

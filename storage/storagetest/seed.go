// Package storagetest holds what tests share that damage or kill a database
// somewhere at random: where their numbers come from.
package storagetest

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"
)

// SeedName is the variable that says what a test draws: a number repeats the test
// that printed it, "time" makes it a new one. Without it each run is the same, as
// far as the machine's own timing lets it.
const SeedName = "PLUMBLINE_TEST_SEED"

// Seeded gives a test its random numbers, and prints their seed.
func Seeded(t testing.TB) *rand.Rand {
	t.Helper()
	seed := uint64(1)
	switch given := os.Getenv(SeedName); given {
	case "":
	case "time":
		seed = uint64(time.Now().UnixNano())
	default:
		var err error
		if seed, err = strconv.ParseUint(given, 10, 64); err != nil {
			t.Fatalf("%s: %v", SeedName, err)
		}
	}
	t.Logf("%s=%d", SeedName, seed)
	return rand.New(rand.NewPCG(seed, 0))
}

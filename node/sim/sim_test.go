package sim

import (
	"flag"
	"os"
	"runtime/debug"
	"strings"
	"testing"
	"time"
)

// How to run more, or one again. A night of fresh seeds:
//
//	go test ./node/sim -run Fresh -sim.for=8h -timeout 9h
var (
	firstSeed = flag.Uint64("sim.first", 1, "the first seed")
	seeds     = flag.Uint64("sim.seeds", 200, "how many seeds")
	steps     = flag.String("sim.steps", "", "only these steps of each plan, as a failure prints them")
	laptops   = flag.Int("sim.laptops", 0, "so many laptops, as a failure prints them")
	shrink    = flag.Bool("sim.shrink", true, "make what fails smaller")
	duration  = flag.Duration("sim.for", 2*time.Second, "how long fresh seeds are tried")
)

// Every promise holds over the fixed seeds, and all that is to happen in them does.
func TestSeeds(t *testing.T) {
	counts := Counts{}
	folder := fastFolder(t)
	for seed := *firstSeed; seed < *firstSeed+*seeds && !t.Failed(); seed++ {
		counts.Add(follow(t, seed, folder))
	}
	t.Logf("%s", counts)
	if missing := counts.Missing(); *seeds >= 200 && len(missing) > 0 {
		t.Errorf("never happened: %s", strings.Join(missing, ", "))
	}
}

// Seeds that nobody has tried, from the clock.
func TestFreshSeeds(t *testing.T) {
	folder := fastFolder(t)
	seed, runs := uint64(time.Now().UnixNano())>>10, 0
	for start := time.Now(); time.Since(start) < *duration && !t.Failed(); runs++ {
		follow(t, seed+uint64(runs), folder)
	}
	t.Logf("%d seeds from %d", runs, seed)
}

// follow runs one seed. If it fails it is made smaller and printed with the
// command that repeats it.
func follow(t *testing.T, seed uint64, folder string) Counts {
	plan, err := Draw(seed).Only(*steps, *laptops)
	if err != nil {
		t.Fatal(err)
	}
	options := Options{Folder: folder}
	if testing.Verbose() && *seeds == 1 {
		options.Log = os.Stdout
	}
	r := Run(plan, options)
	if r.Failure == nil {
		return r.Counts
	}
	t.Errorf("seed %d: %s\n%s", seed, r.Failure, plan.Command())
	if !*shrink {
		return r.Counts
	}
	if smallest, failure := Shrink(plan, Options{Folder: folder}); len(smallest.Steps) < len(plan.Steps) {
		t.Errorf("the same in %d steps: %s\n%s", len(smallest.Steps), failure, smallest.Command())
	}
	return r.Counts
}

// fastFolder is in memory where the system has such a file system: what it is
// told to sync costs nothing there.
func fastFolder(t testing.TB) string {
	folder, err := os.MkdirTemp("/dev/shm", "plumbline-sim-*")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	return folder
}

// Worlds are small and soon over: collecting what they leave less often than programs
// do takes a fifth off their processor time, and little memory.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}

package sim

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Counts says how often each thing happened.
type Counts map[string]int

func (c Counts) add(what string) { c[what]++ }

// Add sums up.
func (c Counts) Add(other Counts) {
	for what, n := range other {
		c[what] += n
	}
}

// Missing lists what must happen in a set of runs and didn't.
func (c Counts) Missing() []string {
	var missing []string
	for _, what := range expected {
		if c[what] == 0 {
			missing = append(missing, what)
		}
	}
	return missing
}

func (c Counts) String() string {
	var lines []string
	for _, what := range slices.Sorted(maps.Keys(c)) {
		lines = append(lines, fmt.Sprintf("%8d %s", c[what], what))
	}
	return strings.Join(lines, "\n")
}

// expected is what has to happen now and then, else the runs prove little.
var expected = []string{
	"partition", "loss", "duplication", "reordering", "link cut",
	"crash before write", "crash unsynced", "crash synced", "crash within commit", "crash between steps", "crash at close",
	"torn write", "disk error", unconfirmed, "disk lied", "disk destroyed",
	"clock wrong", "Lamport time leaps", "clean restart", "log continued", "new log",
	"tidied", "backup", "restore", "clone", "rollback of everything", "fork",
	"newer kind", "newer field", "newer body", "newer control entry", "blocked",
	"join", "second laptop of a person", "promotion", "revocation", "demotion", "cut raised", "accepted in part", "readmission", "root speaks",
	"joined with what was written alone", "conflict taken along", "retired record taken along",
	"move cut off before it counted", "move cut off after it counted", "move refused by the disk",
	"concurrent cut", "in-flight revocation", "link ended by a cut", "farewell", "link refused",
	"replaced before held", "stale replacement", "concurrent values", "settled", "set-aside replacement",
	"set aside", "no right", "unread", "erased",
	"retirement", "retired from an earlier screen", "retired against an edit", "hidden",
	"kept", "kept from an earlier screen", "not kept, since it was retired once more", "joined records", "torn group",
	"link key", "no link key in common", "link key changed", "tried again later",
	"database", "long value", "own tail pulled back", "healed without new links", "asked when healed",
}

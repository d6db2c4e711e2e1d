package storage

import "flag"

// What the rules say of an unusual history shows in one of a hundred at times,
// so rapid's hundred are too few. The command line still overrides it.
func init() {
	if err := flag.Set("rapid.checks", "150"); err != nil {
		panic(err)
	}
}

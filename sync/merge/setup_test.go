package merge_test

import "flag"

// A history folds in a fraction of a millisecond, so more of them than rapid's
// hundred are cheap. The command line still overrides it.
func init() {
	if err := flag.Set("rapid.checks", "2000"); err != nil {
		panic(err)
	}
}

package main

import (
	"regexp"

	"plumbline/node/rpc"
)

// asOfFlag is how what was read is given on the command line, and asOf how the API
// calls it, in which the node words what is wrong with it.
const asOfFlag = "as-of"

var asOf = regexp.MustCompile(`\bas_of\b`)

// asTyped words a refusal by the flag that a person typed.
func asTyped(err error) error {
	if err = rpc.Err(err); err == nil {
		return nil
	}
	return &advice{err, asOf.ReplaceAllString(err.Error(), "--"+asOfFlag)}
}

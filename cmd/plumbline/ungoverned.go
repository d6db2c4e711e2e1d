package main

import (
	"context"
	"strings"

	"plumbline/node/record"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// ungoverned returns the grades among fields that no factor names since the staff has
// none: then a slip of the pen can't be told from a factor.
func ungoverned(ctx context.Context, c *rpc.Client, sets []*v1.Set) ([]string, error) {
	kind, ok := record.Stored().Kind(record.Evaluation)
	var grades []string
	for _, set := range sets {
		reg, err := kind.Register(set.GetField())
		if ok && err == nil && reg.Field.Name == "grades" && !set.GetClear() {
			grades = append(grades, reg.Path())
		}
	}
	if len(grades) == 0 {
		return nil, nil
	}
	factors, err := c.Ledger.List(ctx, &v1.ListRequest{Kind: "factor", Limit: 1})
	if err != nil || factors.GetTotal() > 0 {
		return nil, err
	}
	return grades, nil
}

// warnOfSlips says, once it is saved, that grades were taken as they were typed.
func (a *app) warnOfSlips(grades []string) error {
	if len(grades) == 0 {
		return nil
	}
	return a.advise("The staff has no factors yet, so %s was taken as it was typed: mind slips. A director names them with "+
		"\"plumbline add factor name=…\"; what they don't name is refused from then on.", strings.Join(grades, ", "))
}

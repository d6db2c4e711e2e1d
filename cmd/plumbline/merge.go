package main

import (
	"context"
	"fmt"
	"strings"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// mergeConflict fills a settlement in with what the values of the conflict come
// to if each change is kept, and names them as seen. What two changed
// differently only a person can decide.
func mergeConflict(ctx context.Context, c *rpc.Client, req *v1.SettleRequest) error {
	answer, err := c.Ledger.Conflicts(ctx, &v1.ConflictsRequest{Record: req.GetRecord()})
	if err != nil {
		return err
	}
	for _, conflict := range answer.GetConflicts() {
		if conflict.GetField() == nil || conflict.GetField().GetName() != path(conflict.GetRecord(), req.GetField()) {
			continue
		}
		groups := gathered(conflict.GetField().GetValues())
		merge := &v1.MergeRequest{}
		if before := conflict.GetAncestor(); before != nil {
			merge.Ancestor = &before.Text
		}
		for _, group := range groups {
			merge.Texts = append(merge.Texts, group[0].GetText())
			for _, value := range group {
				req.Seen = append(req.Seen, value.GetId())
			}
		}
		merged, err := c.Ledger.Merge(ctx, merge)
		if err != nil {
			return err
		}
		req.Text, err = mergedText(merged.GetParts(), groups, conflict)
		return err
	}
	return fmt.Errorf("%s of %s is not in conflict: there is nothing to merge; plumbline conflicts lists what is", req.GetField(), req.GetRecord())
}

func mergedText(parts []*v1.MergedPart, groups [][]*v1.Value, conflict *v1.Conflict) (string, error) {
	var text strings.Builder
	var open []string
	for _, part := range parts {
		text.WriteString(part.GetText())
		if !part.GetOverlap() {
			continue
		}
		if conflict.GetAncestor() != nil {
			open = append(open, fmt.Sprintf("  before  %q", part.GetBefore()))
		}
		for i, version := range part.GetVersions() {
			if conflict.GetAncestor() != nil && version == part.GetBefore() {
				continue // who left it alone leaves it to the others
			}
			open = append(open, fmt.Sprintf("    %d  %q, %s", i+1, version, origins(groups[i])))
		}
	}
	if len(open) == 0 {
		return text.String(), nil
	}
	return "", unmerged{fmt.Sprintf("%s of %s can't be merged without a person, since these places differ:\n%s\n"+
		"choose on the page, or write the whole text: plumbline settle %s %s --value @FILE",
		conflict.GetField().GetName(), conflict.GetTitle(), strings.Join(open, "\n"), conflict.GetRecord(), conflict.GetField().GetName())}
}

// unmerged says what is still in conflict.
type unmerged struct{ sentence string }

func (u unmerged) Error() string { return u.sentence }
func (unmerged) Unwrap() error   { return node.ErrDisputed }

package rpc_test

import (
	"testing"

	"connectrpc.com/connect"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// An empty ancestor is one: both began with nothing. None is another matter.
func TestMergeTakesAnAncestorOrNone(t *testing.T) {
	memory := rpc.InMemory(newFolders(t).founded(t))
	defer memory.Close()
	merge := func(ancestor *string, texts ...string) []*v1.MergedPart {
		answer, err := memory.Ledger.Merge(t.Context(), &v1.MergeRequest{Ancestor: ancestor, Texts: texts})
		if err != nil {
			t.Fatal(err)
		}
		return answer.GetParts()
	}
	nothing := ""
	if parts := merge(&nothing, "Long arms.", ""); len(parts) != 1 || parts[0].GetText() != "Long arms." || parts[0].GetOverlap() {
		t.Errorf("with an empty ancestor: %v", parts)
	}
	if parts := merge(nil, "Long arms.", ""); len(parts) != 1 || parts[0].GetText() != "" || !parts[0].GetOverlap() {
		t.Errorf("with none: %v", parts)
	}
	_, err := memory.Ledger.Merge(t.Context(), &v1.MergeRequest{Texts: []string{"alone"}})
	if connect.CodeOf(err) != connect.CodeInvalidArgument {
		t.Errorf("one text alone: %v", err)
	}
}

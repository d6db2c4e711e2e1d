package rpc_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// Ledger rule 12 at the API: whoever doesn't name what stands there is refused
// and told the ids, and with these the same call goes through.
func TestCallsThatReplaceNameWhatWasSeen(t *testing.T) {
	server := served(t)
	c := rpc.Dial(server.Address)
	defer c.Close()
	first, second := addProspect(t, t.Context(), c, "Orrin Vale"), addProspect(t, t.Context(), c, "Orin Vale")
	written, err := c.Ledger.Write(t.Context(), &v1.WriteRequest{Writes: []*v1.Write{{Kind: "evaluation", Sets: []*v1.Set{
		{Field: "prospect", Text: first}, {Field: "overall", Text: "6"}, {Field: "filed", Text: "2026-03-01"},
	}}}})
	if err != nil {
		t.Fatal(err)
	}
	evaluation := written.GetRecords()[0]
	joined, err := c.Ledger.Same(t.Context(), &v1.SameRequest{First: first, Second: second})
	if err != nil {
		t.Fatal(err)
	}
	name := slices.IndexFunc(joined.GetRecord().GetFields(), func(f *v1.Field) bool { return f.GetName() == "name" })
	filed, err := c.Ledger.Get(t.Context(), &v1.GetRequest{Record: evaluation})
	if err != nil {
		t.Fatal(err)
	}
	day := slices.IndexFunc(filed.GetRecord().GetFields(), func(f *v1.Field) bool { return f.GetName() == "filed" })
	for _, call := range []struct {
		name  string
		stand []*v1.Value
		call  func(seen []string) error
	}{
		{"settle", joined.GetRecord().GetFields()[name].GetValues(), func(seen []string) error {
			_, err := c.Ledger.Settle(t.Context(), &v1.SettleRequest{Record: first, Field: "name", Text: "Orrin Vale", Seen: seen})
			return err
		}},
		{"file", filed.GetRecord().GetFields()[day].GetValues(), func(seen []string) error {
			_, err := c.Ledger.File(t.Context(), &v1.FileRequest{Evaluation: evaluation, Seen: seen})
			return err
		}},
		{"same", joined.GetSaid(), func(seen []string) error {
			_, err := c.Ledger.Same(t.Context(), &v1.SameRequest{First: first, Second: second, Apart: true, Seen: seen})
			return err
		}},
	} {
		err := rpc.Err(call.call(nil))
		if !errors.Is(err, node.ErrUnseen) {
			t.Errorf("%s without what was seen: %v", call.name, err)
			continue
		}
		var ids []string
		for _, v := range call.stand {
			ids = append(ids, v.GetId())
		}
		_, named, _ := strings.Cut(err.Error(), "--seen ")
		told := strings.Split(named, ",")
		slices.Sort(told)
		slices.Sort(ids)
		if len(ids) == 0 || !slices.Equal(told, ids) {
			t.Errorf("%s names %v, want %v", call.name, told, ids)
		}
		if err := call.call(ids); err != nil {
			t.Errorf("%s with what was seen: %v", call.name, rpc.Err(err))
		}
	}
}

// A torn pair carries what was said, and that settles it.
func TestATornPairCarriesWhatWasSaid(t *testing.T) {
	server := served(t)
	c := rpc.Dial(server.Address)
	defer c.Close()
	var ids []string
	for _, name := range []string{"Orrin Vale", "Orin Vale", "Oren Vahl"} {
		ids = append(ids, addProspect(t, t.Context(), c, name))
	}
	for _, req := range []*v1.SameRequest{
		{First: ids[0], Second: ids[2], Apart: true}, {First: ids[0], Second: ids[1]}, {First: ids[1], Second: ids[2]},
	} {
		if _, err := c.Ledger.Same(t.Context(), req); err != nil {
			t.Fatal(err)
		}
	}
	torn := func() *v1.Conflict {
		answer, err := c.Ledger.Conflicts(t.Context(), &v1.ConflictsRequest{})
		if err != nil {
			t.Fatal(err)
		}
		for _, conflict := range answer.GetConflicts() {
			if conflict.GetAbout() == "same" {
				return conflict
			}
		}
		return nil
	}
	conflict := torn()
	if len(conflict.GetSaid()) != 2 {
		t.Fatalf("the pair carries %v, want the no and the yes", conflict.GetSaid())
	}
	req := &v1.SameRequest{First: conflict.GetRecord(), Second: conflict.GetOther(), Apart: true}
	if _, err := c.Ledger.Same(t.Context(), req); !errors.Is(rpc.Err(err), node.ErrUnseen) {
		t.Errorf("without what was seen: %v", rpc.Err(err))
	}
	for _, v := range conflict.GetSaid() {
		req.Seen = append(req.Seen, v.GetId())
	}
	if _, err := c.Ledger.Same(t.Context(), req); err != nil {
		t.Fatal(rpc.Err(err))
	}
	if again := torn(); again != nil {
		t.Errorf("still torn: %v", again)
	}
}

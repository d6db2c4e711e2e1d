package rpc

import (
	"math"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func TestJSONOfAnyGoType(t *testing.T) {
	for _, c := range []struct{ from, want any }{
		{nil, nil},
		{"tackle", "tackle"},
		{int64(268), 268.0},
		{true, true},
	} {
		made, err := jsonTo(c.from)
		if err != nil || made.AsInterface() != c.want {
			t.Errorf("%v became %v, %v, want %v", c.from, made.AsInterface(), err, c.want)
		}
	}
	list, err := jsonTo([]string{"lunging", "late hands"})
	if err != nil || len(list.GetListValue().GetValues()) != 2 {
		t.Errorf("a list of texts became %v, %v", list, err)
	}
	if _, err := jsonTo(math.Inf(1)); err != nil {
		t.Errorf("infinity: %v", err)
	}
	if _, err := jsonTo(make(chan int)); err == nil {
		t.Error("a channel has JSON")
	}
}

func TestWhatIsntSetIsEmpty(t *testing.T) {
	if got := text(entry.PersonID{}); got != "" {
		t.Errorf("no person is %q", got)
	}
	if got := text(entry.PersonID{1}); got == "" {
		t.Error("a person is nothing")
	}
	if roleName(0) != "" || roleName(entry.RoleDirector) != "director" {
		t.Errorf("roles are %q and %q", roleName(0), roleName(entry.RoleDirector))
	}
}

func TestCountsFit(t *testing.T) {
	if count(-1) != 0 || count(7) != 7 || count(uint64(math.MaxUint64)) != math.MaxUint32 {
		t.Errorf("got %d, %d, %d", count(-1), count(7), count(uint64(math.MaxUint64)))
	}
}

// Each status has a name of its own: it is all that a reader learns.
func TestStatusNames(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range []merge.Status{merge.Applied, merge.SetAside, merge.NoRight, merge.Erased, merge.Unread} {
		if name := statusName(s); seen[name] {
			t.Errorf("%q names two statuses", name)
		} else {
			seen[name] = true
		}
	}
}

package main

import (
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"plumbline/node/rpc"
)

// A director who was away when they were revoked had made a scout a director. Whoever
// lets their work count is told so by name, and hands out no rights unless they say so,
// on the command line and over the API.
func TestAcceptHandsOutNoRightsUnasked(t *testing.T) {
	mara, tobin, ira := newStaff(t)
	for _, n := range []*notebook{mara, tobin, ira} {
		n.start()
	}
	linkUp(t, tobin, mara)
	linkUp(t, ira, mara)
	mara.do("promote", "Tobin Ash")
	alike(t, mara, tobin, ira)
	for _, n := range []*notebook{tobin, ira} {
		n.stop()
	}
	mara.do("revoke", "Tobin Ash")
	tobin.do("add", "prospect", "name=Wes Tarn", "position=tackle")
	tobin.do("promote", "Ira Quist")
	pairUp(t, mara, tobin)
	tobin.start()
	linkUp(t, tobin, mara)
	alike(t, mara, tobin)

	const gave, gets = "Tobin Ash: gave Ira Quist's laptop ira a director's rights [set aside]", "Ira Quist's laptop ira gets a director's rights"
	if out := mara.do("aside"); !strings.Contains(out, "the staff: ") || !strings.Contains(out, gave) {
		t.Errorf("what is set aside says\n%s", out)
	}
	before := mara.status()
	shown := mara.do("accept", "tobin", "--dry-run")
	for _, want := range []string{"would be accepted", "Wes Tarn", "left set aside", gets, "accept tobin --rights --as-of "} {
		if !strings.Contains(shown, want) {
			t.Errorf("what would be accepted doesn't say %q:\n%s", want, shown)
		}
	}
	withRights := mara.do("accept", "tobin", "--dry-run", "--rights")
	for _, want := range []string{gave, "this would come into force", gets, "to let just this count:\n" + mara.own("accept", "tobin", "--rights", "--as-of")} {
		if !strings.Contains(withRights, want) {
			t.Errorf("what would be accepted with the rights doesn't say %q:\n%s", want, withRights)
		}
	}
	if after := mara.status(); after.Entries != before.Entries {
		t.Errorf("it was only asked, and something was stored: %+v, before %+v", after, before)
	}

	did := mara.do("accept", "tobin")
	if !strings.Contains(did, "accepted") || !strings.Contains(did, gets) || strings.Contains(did, "in force") {
		t.Errorf("accepting the work says\n%s", did)
	}
	if got := mara.texts("list", "--columns", "name"); got != "Wes Tarn" {
		t.Errorf("after the work was accepted, the list is %q", got)
	}
	roles := func() string { return mara.do("roster") }
	scout, director := regexp.MustCompile(`Ira Quist +ira +scout`), regexp.MustCompile(`Ira Quist +ira +director`)
	if out := roles(); !scout.MatchString(out) {
		t.Fatalf("accepting the work handed out rights:\n%s", out)
	}
	mara.isRefused(t, exitRefused, []string{"accept", "tobin"}, gets, "nothing was accepted", "--rights --as-of")
	mara.refusesOverHTTP(t, gets)
	if out := roles(); !scout.MatchString(out) {
		t.Fatalf("a refusal handed out rights:\n%s", out)
	}
	if out := mara.do("accept", "tobin", "--rights"); !strings.Contains(out, "in force now") || !strings.Contains(out, gets) {
		t.Errorf("accepting the rights says\n%s", out)
	}
	if out := roles(); !director.MatchString(out) {
		t.Errorf("the rights were accepted, and the roster says\n%s", out)
	}
}

// own is how a command for this laptop's folders begins.
func (n *notebook) own(words ...string) string {
	a := app{namedData: n.data, namedState: n.state}
	return a.command(words...)
}

// refusesOverHTTP wants what any program is told that accepts what was listed without
// asking for the rights in it.
func (n *notebook) refusesOverHTTP(t *testing.T, says string) {
	t.Helper()
	address, err := rpc.ReadAddress(n.state)
	if err != nil {
		t.Fatal(err)
	}
	var listed struct {
		AsOf string `json:"as_of"`
	}
	n.read(&listed, "aside")
	body := fmt.Sprintf(`{"who":"tobin","asOf":%q}`, listed.AsOf)
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+address.Address+"/plumbline.v1.StaffService/Accept", strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header = http.Header{"Content-Type": {"application/json"}, "Authorization": {"Bearer " + address.Token}}
	response, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	if response.StatusCode == http.StatusOK || !strings.Contains(string(answer), `"failed_precondition"`) || !strings.Contains(string(answer), says) {
		t.Errorf("the API answers %s: %s", response.Status, answer)
	}
}

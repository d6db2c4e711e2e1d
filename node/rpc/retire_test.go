package rpc_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// What plain curl does to retire and to keep: it sends back as_of, the text that
// came with what it showed (ledger rule 17).
func TestRule17AThinClientSendsBackWhatItRead(t *testing.T) {
	server := served(t)
	call := func(method, body string) (int, map[string]any) {
		t.Helper()
		status, _, answer := request{server: server, path: "/plumbline.v1." + method, body: body}.do(t)
		return status, fromJSON(t, answer)
	}
	write := func(body string) string {
		t.Helper()
		status, answer := call("LedgerService/Write", body)
		if status != http.StatusOK {
			t.Fatalf("write: %v", answer)
		}
		return answer["records"].([]any)[0].(string)
	}
	id := write(`{"writes":[{"kind":"prospect","sets":[{"field":"name","text":"Orrin Vale"}]}]}`)
	_, shown := call("LedgerService/Get", fmt.Sprintf(`{"record":%q}`, id))
	drawn := shown["asOf"].(string)
	if len(drawn) < 20 || len(drawn) > 400 {
		t.Errorf("as_of has %d bytes: %s", len(drawn), drawn)
	}
	// Something is written while it is on screen.
	write(fmt.Sprintf(`{"writes":[{"record":%q,"sets":[{"field":"school","text":"Salt Lick"}]}]}`, id))

	retire := func(asOf string) (int, map[string]any) {
		return call("LedgerService/Retire", fmt.Sprintf(`{"record":%q,"asOf":%q}`, id, asOf))
	}
	for asOf, says := range map[string]string{"": "as_of", drawn[:20]: "whole"} {
		status, answer := retire(asOf)
		if status == http.StatusOK || !strings.Contains(answer["message"].(string), says) {
			t.Errorf("retiring as of %q: %d %v", asOf, status, answer)
		}
	}
	status, answer := retire(drawn)
	if status != http.StatusOK || answer["record"].(map[string]any)["visibility"] != "VISIBILITY_DISPUTED" {
		t.Fatalf("retiring what was drawn: %d %v", status, answer)
	}
	unread := answer["unread"].(map[string]any)
	if unread["total"] != 1.0 || !strings.Contains(fmt.Sprint(unread["revisions"]), "Salt Lick") {
		t.Errorf("what keeps it in sight: %v", unread)
	}
	_, shown = call("LedgerService/Get", fmt.Sprintf(`{"record":%q,"since":%q}`, id, drawn))
	if arrived := shown["arrived"].(map[string]any); arrived["total"] != 2.0 {
		t.Errorf("since it was drawn: %v, want the school and the retirement", arrived)
	}
	status, answer = retire(shown["asOf"].(string))
	if status != http.StatusOK || answer["record"].(map[string]any)["visibility"] != "VISIBILITY_HIDDEN" {
		t.Fatalf("retiring what is drawn now: %d %v", status, answer)
	}
	status, answer = call("LedgerService/Keep", fmt.Sprintf(`{"record":%q,"asOf":%q}`, id, shown["asOf"]))
	if status == http.StatusOK || !strings.Contains(answer["message"].(string), "once more") {
		t.Errorf("keeping what was retired since: %d %v", status, answer)
	}
	_, shown = call("LedgerService/Get", fmt.Sprintf(`{"record":%q}`, id))
	status, answer = call("LedgerService/Keep", fmt.Sprintf(`{"record":%q,"asOf":%q}`, id, shown["asOf"]))
	if status != http.StatusOK || answer["record"].(map[string]any)["visibility"] != "VISIBILITY_VISIBLE" {
		t.Errorf("keeping it: %d %v", status, answer)
	}
	for _, body := range []string{`{"who":"Mara Quill"}`, `{"who":"Mara Quill","rights":true}`} {
		status, answer = call("StaffService/Accept", body)
		if status == http.StatusOK || !strings.Contains(answer["message"].(string), "as_of") {
			t.Errorf("accepting without what was listed, %s: %d %v", body, status, answer)
		}
	}
}

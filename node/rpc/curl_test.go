package rpc_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"plumbline/node/rpc"
)

// What plain curl does: JSON posts, with the token as the one extra header.
func TestPlainJSON(t *testing.T) {
	server := served(t)
	status, _, body := request{server: server, path: writePath, body: `{"writes":[{"kind":"prospect","sets":[
		{"field":"name","text":"Orrin Vale"},{"field":"position","json":"tackle"},{"field":"class_year","json":2027}]}]}`}.do(t)
	if status != http.StatusOK {
		t.Fatalf("write: %d %s", status, body)
	}
	id := fromJSON(t, body)["records"].([]any)[0].(string)
	status, _, body = request{server: server, path: getPath, body: `{"record":"Orrin Vale"}`}.do(t)
	if status != http.StatusOK {
		t.Fatalf("get: %d %s", status, body)
	}
	record := fromJSON(t, body)["record"].(map[string]any)
	if record["id"] != id || record["kind"] != "prospect" || record["visibility"] != "VISIBILITY_VISIBLE" {
		t.Errorf("got %v", record)
	}
	values := map[string]any{}
	for _, field := range record["fields"].([]any) {
		f := field.(map[string]any)
		value := f["values"].([]any)[0].(map[string]any)
		values[f["name"].(string)] = value["json"]
		if value["personName"] != "Mara Quill" || value["written"] == nil || value["id"] == nil {
			t.Errorf("%s: a value without author, time or id: %v", f["name"], value)
		}
	}
	if values["name"] != "Orrin Vale" || values["position"] != "tackle" || values["class_year"] != 2027.0 {
		t.Errorf("got the values %v", values)
	}
}

// The status of each code is fixed by the Connect protocol's table of error
// codes (connectrpc.com/docs/protocol).
func TestErrorsInJSON(t *testing.T) {
	server := served(t)
	for _, c := range []struct {
		path, body string
		status     int
		code       string
		reason     string // empty when the field rules refuse
	}{
		{getPath, `{"record":"Nell Varr"}`, http.StatusNotFound, "not_found", "not_found"},
		{getPath, `{"record":""}`, http.StatusBadRequest, "invalid_argument", ""},
		{writePath, `{"writes":[]}`, http.StatusBadRequest, "invalid_argument", ""},
		{writePath, `{"writes":[{"kind":"prospect","sets":[{"field":"position","text":"goalkeeper"}]}]}`, http.StatusBadRequest, "invalid_argument", "invalid"},
		{writePath, `{"wrotes":[]}`, http.StatusBadRequest, "invalid_argument", ""},
		{"/plumbline.v1.StaffService/Found", `{"staff":"Low Ridge","person":"Ira Quist"}`, http.StatusConflict, "already_exists", "has_staff"},
	} {
		status, _, body := request{server: server, path: c.path, body: c.body}.do(t)
		answer := fromJSON(t, body)
		if status != c.status || answer["code"] != c.code || answer["message"] == "" {
			t.Errorf("%s %s: got %d %s, want %d %s", c.path, c.body, status, body, c.status, c.code)
		}
		if got := strings.Contains(string(body), "plumbline.v1.Refusal"); got != (c.reason != "") {
			t.Errorf("%s %s: a reason is there: %v, in %s", c.path, c.body, got, body)
		}
		if c.reason != "" && !strings.Contains(string(body), `"reason":"`+c.reason+`"`) && !strings.Contains(string(body), `"reason": "`+c.reason+`"`) {
			t.Errorf("%s %s: the reason isn't %s: %s", c.path, c.body, c.reason, body)
		}
	}
}

// A message beyond its bound is refused before it is held.
func TestMessagesAreBounded(t *testing.T) {
	server := served(t)
	body := fmt.Sprintf(`{"record":%q}`, strings.Repeat("a", 2<<20))
	status, _, answer := request{server: server, path: getPath, body: body}.do(t)
	if status != http.StatusTooManyRequests || fromJSON(t, answer)["code"] != "resource_exhausted" {
		t.Errorf("got %d %.200s", status, answer)
	}
}

// watch opens a stream as the Connect protocol has it: each message with a byte
// of flags and four bytes of length in front, big end first; flag 2 marks the
// end (connectrpc.com/docs/protocol, "Streaming RPCs").
func watch(t *testing.T, server *rpc.Server) io.ReadCloser {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost,
		"http://"+server.Address.Address+"/plumbline.v1.LedgerService/Watch", bytes.NewReader([]byte("\x00\x00\x00\x00\x02{}")))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/connect+json")
	req.Header.Set("Authorization", "Bearer "+server.Address.Token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("watch: %s", resp.Status)
	}
	return resp.Body
}

func readFrame(t *testing.T, from io.Reader) (flags byte, message map[string]any) {
	t.Helper()
	var head [5]byte
	if _, err := io.ReadFull(from, head[:]); err != nil {
		t.Fatalf("reading a message's head: %v", err)
	}
	data := make([]byte, binary.BigEndian.Uint32(head[1:]))
	if _, err := io.ReadFull(from, data); err != nil {
		t.Fatalf("reading a message: %v", err)
	}
	if err := json.Unmarshal(data, &message); err != nil {
		t.Fatalf("%v in %s", err, data)
	}
	return head[0], message
}

func TestWatch(t *testing.T) {
	f := newFolders(t)
	server := f.serve(t, f.founded(t), 0)
	stream := watch(t, server)
	defer stream.Close()
	_, first := readFrame(t, stream)
	client := rpc.Dial(server.Address)
	defer client.Close()
	id := addProspect(t, t.Context(), client, "Orrin Vale")
	_, change := readFrame(t, stream)
	if change["entries"].(float64) <= first["entries"].(float64) || change["stateHash"] == first["stateHash"] {
		t.Errorf("after a write: %v, before: %v", change, first)
	}
	if records := change["records"].([]any); len(records) != 1 || records[0] != id {
		t.Errorf("the change names %v, want %s", records, id)
	}
	// A server that closes ends its streams in order, and waits for none.
	if err := server.Close(); err != nil {
		t.Errorf("closing the server: %v", err)
	}
	if flags, _ := readFrame(t, stream); flags != 2 {
		t.Errorf("the stream ended with flags %d, want 2", flags)
	}
}

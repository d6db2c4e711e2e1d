package main

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"io"
	"net/http"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"connectrpc.com/connect"
	"connectrpc.com/grpcreflect"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"

	"plumbline/node/rpc"
)

// thinClient is a tool that isn't ours and knows of Plumbline only what its
// README says: the address, the token, and JSON. Calls and watches end with the
// test.
type thinClient struct {
	name string
	// call sends JSON to a method of LedgerService and gives the JSON it answers.
	call func(t *testing.T, method, body string) []byte
	// watch opens Watch; each call of what it returns gives one message's JSON.
	watch func(t *testing.T) func() []byte
}

const ledgerService = "plumbline.v1.LedgerService"

// TestThinClients does one write, one read and one watch with each tool.
func TestThinClients(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.start()
	address, err := rpc.ReadAddress(mara.state)
	if err != nil {
		t.Fatal(err)
	}
	for _, client := range thinClients(t, address) {
		t.Run(client.name, func(t *testing.T) {
			next := client.watch(t)
			first := decoded[watched](t, next())
			name := "Pim " + client.name
			wrote := decoded[struct{ Records []string }](t, client.call(t, "Write",
				`{"writes": [{"kind": "prospect", "sets": [{"field": "name", "text": "`+name+`"}, {"field": "class_year", "json": 2027}]}]}`))
			if len(wrote.Records) != 1 {
				t.Fatalf("one write made the records %q", wrote.Records)
			}
			got := decoded[struct {
				Record struct{ ID, Kind, Title string }
			}](t, client.call(t, "Get", `{"record": "`+name+`"}`)).Record
			if got.ID != wrote.Records[0] || got.Kind != "prospect" || got.Title != name {
				t.Errorf("read back %+v, want %q as %s", got, name, wrote.Records[0])
			}
			change := decoded[watched](t, next())
			if change.Entries <= first.Entries || change.StateHash == first.StateHash || len(change.Records) != 1 || change.Records[0] != got.ID {
				t.Errorf("the watch says %+v after the write of %s, and said %+v before", change, got.ID, first)
			}
			if out := mara.do("show", name); !strings.Contains(out, got.ID) {
				t.Errorf("plumbline show says %s", out)
			}
		})
	}
}

type watched struct {
	Entries   int
	StateHash string
	Records   []string
}

// decoded reads JSON; names of fields fit without regard to case.
func decoded[T any](t *testing.T, data []byte) T {
	t.Helper()
	var into T
	if err := json.Unmarshal(data, &into); err != nil {
		t.Fatalf("%v in %q", err, data)
	}
	return into
}

func thinClients(t *testing.T, address rpc.Address) []thinClient {
	t.Helper()
	bearer := "Authorization: Bearer " + address.Token
	clients := []thinClient{plainHTTP(address), byReflection(address)}
	if path, err := exec.LookPath("curl"); err == nil {
		clients = append(clients, curl(path, address, bearer))
	}
	if path, err := exec.LookPath(filepath.Join("..", "..", "node_modules", ".bin", "buf")); err == nil {
		clients = append(clients, bufCurl(path, address, bearer, "connect"), bufCurl(path, address, bearer, "grpc"))
	}
	if path, err := exec.LookPath("grpcurl"); err == nil {
		clients = append(clients, tool("grpcurl", func(method, body string) []string {
			return []string{path, "-plaintext", "-H", bearer, "-d", body, address.Address, ledgerService + "/" + method}
		}))
	}
	return clients
}

// watchRequest is the body of a Watch in the Connect protocol: a byte of flags and
// four of length before the message (connectrpc.com/docs/protocol, "Streaming RPCs").
const watchRequest = "\x00\x00\x00\x00\x02{}"

// plainHTTP sends what curl sends, so that it is tested where curl isn't there.
func plainHTTP(address rpc.Address) thinClient {
	post := func(t *testing.T, method, kind, body string) *http.Response {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+address.Address+"/"+ledgerService+"/"+method, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+address.Token)
		req.Header.Set("Content-Type", kind)
		answer, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { answer.Body.Close() })
		if answer.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s", method, answer.Status)
		}
		return answer
	}
	return thinClient{
		name: "plain HTTP",
		call: func(t *testing.T, method, body string) []byte {
			data, err := io.ReadAll(post(t, method, "application/json", body).Body)
			if err != nil {
				t.Fatal(err)
			}
			return data
		},
		watch: func(t *testing.T) func() []byte {
			return frames(t, post(t, "Watch", "application/connect+json", watchRequest).Body)
		},
	}
}

// frames takes the messages out of a stream of the Connect protocol.
func frames(t *testing.T, from io.Reader) func() []byte {
	return func() []byte {
		t.Helper()
		var head [5]byte
		if _, err := io.ReadFull(from, head[:]); err != nil {
			t.Fatal(err)
		}
		data := make([]byte, binary.BigEndian.Uint32(head[1:]))
		if _, err := io.ReadFull(from, data); err != nil {
			t.Fatal(err)
		}
		return data
	}
}

func curl(path string, address rpc.Address, bearer string) thinClient {
	url := "http://" + address.Address + "/" + ledgerService + "/"
	client := tool("curl", func(method, body string) []string {
		return []string{path, "-sS", "--fail-with-body", "-H", bearer, "-H", "Content-Type: application/json", "-d", body, url + method}
	})
	client.watch = func(t *testing.T) func() []byte {
		return frames(t, output(t, watchRequest, path, "-sSN", "-H", bearer, "-H", "Content-Type: application/connect+json", "--data-binary", "@-", url+"Watch"))
	}
	return client
}

// bufCurl asks the node for the schema, which takes the token as well.
func bufCurl(path string, address rpc.Address, bearer, protocol string) thinClient {
	return tool("buf curl by "+protocol, func(method, body string) []string {
		args := []string{path, "curl", "--reflect", "--reflect-header", bearer, "-H", bearer, "--protocol", protocol, "-d", body}
		if protocol == "grpc" {
			args = append(args, "--http2-prior-knowledge")
		}
		return append(args, "http://"+address.Address+"/"+ledgerService+"/"+method)
	})
}

// tool is a client that is a command and prints the JSON of each message.
func tool(name string, line func(method, body string) []string) thinClient {
	return thinClient{
		name: name,
		call: func(t *testing.T, method, body string) []byte {
			args := line(method, body)
			r := finish(t, exec.CommandContext(t.Context(), args[0], args[1:]...))
			if r.code != 0 {
				t.Fatalf("%s ended with %d: %s%s", name, r.code, r.out, r.errs)
			}
			return []byte(r.out)
		},
		watch: func(t *testing.T) func() []byte {
			decoder := json.NewDecoder(output(t, "", line("Watch", "{}")...))
			return func() []byte {
				t.Helper()
				var message json.RawMessage
				if err := decoder.Decode(&message); err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				return message
			}
		},
	}
}

// output starts a command that runs until the test ends.
func output(t *testing.T, stdin string, args ...string) io.Reader {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	cmd := exec.CommandContext(ctx, args[0], args[1:]...)
	cmd.Stdin = strings.NewReader(stdin)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cancel()
		_ = cmd.Wait() // it was ended
	})
	return out
}

// byReflection does as grpcurl does, which needs nothing but the address: it asks
// the node for the schema by gRPC's server reflection, makes messages of it, and
// calls by gRPC over HTTP/2 in clear text.
func byReflection(address rpc.Address) thinClient {
	var protocols http.Protocols
	protocols.SetUnencryptedHTTP2(true)
	caller := &http.Client{Transport: bearing{"Bearer " + address.Token, &http.Transport{Protocols: &protocols}}}
	client := func(t *testing.T, method string) (*connect.Client[dynamicpb.Message, dynamicpb.Message], *dynamicpb.Message) {
		schema := describe(t, caller, "http://"+address.Address).Methods().ByName(protoreflect.Name(method))
		return connect.NewClient[dynamicpb.Message, dynamicpb.Message](caller, "http://"+address.Address+"/"+ledgerService+"/"+method,
			connect.WithGRPC(), connect.WithSchema(schema), connect.WithResponseInitializer(func(_ connect.Spec, message any) error {
				*message.(*dynamicpb.Message) = *dynamicpb.NewMessage(schema.Output())
				return nil
			})), dynamicpb.NewMessage(schema.Input())
	}
	return thinClient{
		name: "gRPC by reflection",
		call: func(t *testing.T, method, body string) []byte {
			c, request := client(t, method)
			if err := protojson.Unmarshal([]byte(body), request); err != nil {
				t.Fatal(err)
			}
			answer, err := c.CallUnary(t.Context(), connect.NewRequest(request))
			if err != nil {
				t.Fatal(err)
			}
			return inJSON(t, answer.Msg)
		},
		watch: func(t *testing.T) func() []byte {
			c, request := client(t, "Watch")
			stream, err := c.CallServerStream(t.Context(), connect.NewRequest(request))
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { stream.Close() })
			return func() []byte {
				t.Helper()
				if !stream.Receive() {
					t.Fatal(stream.Err())
				}
				return inJSON(t, stream.Msg())
			}
		},
	}
}

func inJSON(t *testing.T, message proto.Message) []byte {
	t.Helper()
	data, err := protojson.Marshal(message)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// bearing sends the token with each request.
type bearing struct {
	token string
	next  http.RoundTripper
}

func (b bearing) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Authorization", b.token)
	return b.next.RoundTrip(r)
}

// describe builds the service's schema from what reflection tells.
func describe(t *testing.T, caller *http.Client, base string) protoreflect.ServiceDescriptor {
	t.Helper()
	stream := grpcreflect.NewClient(caller, base, connect.WithGRPC()).NewStream(t.Context())
	defer stream.Close()
	set := &descriptorpb.FileDescriptorSet{}
	seen := map[string]bool{}
	var take func([]*descriptorpb.FileDescriptorProto, error)
	take = func(files []*descriptorpb.FileDescriptorProto, err error) {
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if seen[file.GetName()] {
				continue
			}
			seen[file.GetName()] = true
			set.File = append(set.File, file)
			for _, needed := range file.GetDependency() {
				if !seen[needed] {
					take(stream.FileByFilename(needed))
				}
			}
		}
	}
	take(stream.FileContainingSymbol(ledgerService))
	files, err := protodesc.NewFiles(set)
	if err != nil {
		t.Fatal(err)
	}
	found, err := files.FindDescriptorByName(ledgerService)
	if err != nil {
		t.Fatal(err)
	}
	return found.(protoreflect.ServiceDescriptor)
}

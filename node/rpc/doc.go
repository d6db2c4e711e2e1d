// Package rpc is how thin clients talk to a node: Connect handlers over the
// node's Go API, and the client side for programs in Go.
//
// Start at [NewHandler], which lists the services, then ledger.go, staff.go and
// keeping.go for the calls, wire_*.go for the translation between the node's
// types and the API's messages, and errors.go, where a refusal becomes a wire
// code and back. [Serve] puts the handler on the loopback address behind
// [guard], which says who may call; [Memory] serves a command that has opened
// the folder itself.
//
// The package decides nothing about records, rights or staff: it translates. It
// never listens anywhere but on the loopback address.
package rpc

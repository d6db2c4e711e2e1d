// Package exchange is the conversation by which two laptops of a staff bring
// each other up to date: what each holds, what it lacks, and the entries.
//
// Start with [Session], the state of one conversation: messages and outcomes
// go in, [Action]s come out. [Holdings] is what it reads of this laptop,
// [Memory] the plainest one. The messages are in wire.go, the receiving half
// in pull.go, the sending half in serve.go.
//
// Control logs go first, since they say who may be talked to: neither is
// another log asked for nor named while a control log that the peer announced
// is neither stored nor refused. The receiver sets the pace: it asks for one
// chunk of a log at a time and for no more than it can store. Entries that
// are pushed as they are written are hints: what doesn't attach is asked for.
// What came from one peer is announced to the others; only to whom a control entry
// cuts it is given at once ([Session.Part]), since they are heard no more.
// Nothing is remembered from one link to the next: a conversation can end at
// any byte, and the next one starts from the two holdings alone.
//
// The package does no I/O, knows no clock and starts nothing. It refuses to
// judge: what an entry means, and whether its author had the right, is for
// others. It verifies each run before it hands it over to be stored.
package exchange

// Package entry is the unit of the ledger: what one laptop wrote, in its own
// bytes, chained and signed so that any other laptop can check it.
//
// Start with [Entry] and [Header] for the shape, [Body] for what an entry can
// say, [Writer] for how a log grows and [Verify] for how a receiver checks a
// run of one. [Certificate] says who a log belongs to.
//
// The package knows nothing of football, of rights or of merging, and it does
// no I/O: time and randomness are arguments. It refuses to re-encode: an
// entry's bytes are kept, hashed and forwarded as its author made them.
package entry

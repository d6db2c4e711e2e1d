// Package storage keeps a staff's entries, and what they come to, in one
// SQLite file.
//
// Start with [Open] and [Store.Append]: everything that is ever written goes
// through Append, which stores runs of entries, judges them and folds them in
// one transaction. Its commit is the acknowledgement. The tables are described
// in schema/; logs, branches, signed points and entries are the truth, all the
// others can be built from them ([Store.Rebuild]) and compared with them
// ([Store.Verify]).
//
// The rules by which entries merge are those of sync/merge; this package only
// decides when to apply them. It knows no kind of record but the one by which
// two records are said to be the same: what reading needs of the others, a
// [Projector] extracts. It refuses to lose an entry: what may not be applied
// is kept beside what is.
package storage

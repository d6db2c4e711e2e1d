// Package node is one laptop: it owns the ledger, writes this person's entries,
// talks to other laptops and answers what thin clients ask.
//
// Start with [Core.Step], the deterministic heart: events in, actions out, with
// time, randomness, disk and links as arguments. [Node] is the real process
// around it: folders, keys, the lock, the mesh and watchers. What people see is
// in view.go; reading is in get.go and list.go, writing in write.go and change.go,
// import in importing.go, and admission of laptops in found.go, roster.go,
// invite.go and join.go; moving.go takes along what somebody wrote alone.
//
// The node validates what it writes and judges nothing that it receives: that
// is sync/merge's. It refuses to pick between people's values.
package node

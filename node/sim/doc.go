// Package sim runs whole laptops under one seed: the real step function, merge
// and exchange, with time, randomness, disk and links as arguments, in one
// goroutine, so that whatever it finds happens again.
//
// Start with [Draw], which writes down a [Plan], and [Run], which follows it:
// people write, look and decide, links come and go, disks fail and are copied,
// clocks jump. The things that can happen are listed in kinds.go; what must
// hold after each of them is in check.go, what must hold in the end in
// final.go. A [Laptop] keeps its entries in real SQLite ([database]) or in a
// memory that loses what wasn't synced ([memory]); both pass one suite. Somebody who
// joins with what they wrote alone (alone.go) has a world of one laptop first, always
// on SQLite: their move is one of files. It is cut off wherever the database looks at
// its context, and at the moment when the keys change; of the renames behind that,
// package node's own tests cut off each.
//
// The form is that of the simulation in J. Zhou et al., "FoundationDB: A
// Distributed Unbundled Transactional Key Value Store", SIGMOD 2021, section 4:
// production code on a deterministic executor, faults injected at every layer,
// seeds that reproduce, and counters that prove that rare things happened (there
// "buggification" and coverage macros). Each run turns on a random half of the
// faults, as in A. Groce et al., "Swarm Testing", ISSTA 2012. What is promised is,
// in the terms of Jepsen's list of consistency models (jepsen.io/consistency),
// read-your-writes on one laptop, and strong eventual convergence among linked
// ones in the sense of M. Shapiro et al., INRIA RR-7687 (2011): equal entries,
// equal state. A write that was acknowledged is durable; no register is
// linearizable, and none is claimed to be. Titles were looked up; what the papers
// say is cited from memory.
//
// The package makes no product code behave differently: it holds no switch, and
// knows nothing of what the domain's values mean. It doesn't run the network
// stack, the API or the page.
package sim

// Package mesh links the laptops of one staff: it finds them on the network,
// proves on both sides that the other one belongs, and carries messages.
//
// Start with [Start] and [Handler]. front.go is where a stranger's connection
// arrives, handshake.go is what makes it a peer, broker.go what carries the
// messages of a peer, plan.go who dials whom. [Invite] and [Join] admit a new
// laptop face to face.
//
// The package refuses to know what a message says, and it judges nobody: who
// belongs is the answer of [Config.Admit]. It promises no delivery across a
// cut: what must not be lost is asked for again by whoever misses it.
package mesh

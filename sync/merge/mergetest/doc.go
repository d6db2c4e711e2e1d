// Package mergetest holds what tests of merging share: an invented staff that
// writes logs with the real writer ([World]), random histories of it
// ([Draw]), the plainest laptop that folds them with package merge
// ([Laptop]), and the rules read out loud without that package ([Model]).
// What a laptop, a model or a database makes of a history is an [Outcome],
// and equal ones have equal texts.
//
// Start reading at [World]. Nothing here is fast, keeps anything on disk or
// decides what is right: the rules live in package merge and, said a second
// time, in [Model].
package mergetest

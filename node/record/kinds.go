package record

import "plumbline/sync/entry"

// The kinds of the stored schema, for code that means one of them.
const (
	Prospect    entry.Kind = 1
	Measurement entry.Kind = 2
	Game        entry.Kind = 3
	Look        entry.Kind = 4
	Rep         entry.Kind = 5
	Evaluation  entry.Kind = 6
	Claim       entry.Kind = 7
	Note        entry.Kind = 8
	Flag        entry.Kind = 9
	Person      entry.Kind = 10
	Device      entry.Kind = 11
	Factor      entry.Kind = 12
	Assignment  entry.Kind = 13
	SameAs      entry.Kind = entry.KindSameAs
	Staff       entry.Kind = 15
)

// Must returns a register that the program itself names. It panics if the schema
// has none, which is a mistake in the program.
func Must(kind entry.Kind, path string) Register {
	k, ok := Stored().Kind(kind)
	if !ok {
		panic("record: the schema has no such kind")
	}
	r, err := k.Register(path)
	if err != nil {
		panic("record: " + err.Error())
	}
	return r
}

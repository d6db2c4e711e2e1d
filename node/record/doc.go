// Package record knows the stored schema: which kinds of records there are,
// which fields they have, and how a field's value is typed, shown, checked and
// laid down in bytes.
//
// Start at [Stored], which gives the [Schema], then [Kind.Register], which finds
// one register by what a person types (grades.hand_use), then the methods of
// [Register]: Parse, FromJSON, Text, ToJSON, Check. canon.go has the canonical
// bytes.
//
// The package refuses to look anything up: a reference is a record's id here, and
// turning names into ids is its caller's work. It knows no clock, no disk and no
// other record.
package record

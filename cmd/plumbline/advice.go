package main

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// advice is a refusal with what stands there and the command to go on with.
type advice struct {
	refused error
	text    string
}

func (e *advice) Error() string { return e.text }
func (e *advice) Unwrap() error { return e.refused }

// adviseSet words a refusal to write over values: what stands in all the fields
// and the command that goes on from there, where the node only tells of the
// first.
func (a *app) adviseSet(ctx context.Context, c *rpc.Client, name string, sets []*v1.Set, refused error) error {
	answer, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: name})
	if err != nil {
		return refused
	}
	var standing []*v1.Field
	for _, field := range answer.GetRecord().GetFields() {
		if len(field.GetValues()) > 0 && slices.ContainsFunc(sets, func(set *v1.Set) bool {
			return path(answer.GetRecord().GetId(), set.GetField()) == field.GetName()
		}) {
			standing = append(standing, field)
		}
	}
	if len(standing) == 0 {
		return refused
	}
	disputed := slices.IndexFunc(standing, (*v1.Field).GetConflict)
	if disputed >= 0 {
		return &advice{refused, a.settleAdvice(answer.GetRecord(), standing[disputed], sets)}
	}
	return &advice{refused, a.seenAdvice(answer.GetRecord(), standing, sets)}
}

// adviseOwn adds to a refusal to change what is somebody else's the command that says
// the same in a record of one's own, where that is about a prospect alone.
func (a *app) adviseOwn(ctx context.Context, c *rpc.Client, name string, sets []*v1.Set, refused error) error {
	answer, err := c.Ledger.Get(ctx, &v1.GetRequest{Record: name})
	if err != nil {
		return refused
	}
	kind := answer.GetRecord().GetKind()
	about := standingField(answer.GetRecord(), "prospect")
	if kind != "evaluation" && kind != "note" || len(about.GetValues()) == 0 {
		return refused
	}
	words := []string{"add", kind, "prospect=" + about.GetValues()[0].GetRefersTo()}
	for _, set := range sets {
		if !set.GetClear() && set.GetField() != "prospect" {
			words = append(words, set.GetField()+"="+escaped(set.GetText()))
		}
	}
	return &advice{refused, refused.Error() + ":\n  " + a.command(words...)}
}

func (a *app) settleAdvice(record *v1.Record, field *v1.Field, sets []*v1.Set) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s is in conflict, so nothing was changed:\n", record.GetTitle(), field.GetName())
	table(&b, "  ", standingRows([]*v1.Field{field}))
	writeLong(&b, []*v1.Field{field})
	fmt.Fprintf(&b, "settle it, with one of these values or with another one:\n  %s",
		a.command("settle", record.GetId(), field.GetName(), "--choose", field.GetValues()[0].GetId()))
	if isProse(record.GetKind(), field.GetName()) {
		fmt.Fprintf(&b, "\n  %s", a.command("settle", record.GetId(), field.GetName(), "--merge"))
	}
	for _, set := range sets {
		if path(record.GetId(), set.GetField()) == field.GetName() && !set.GetClear() {
			fmt.Fprintf(&b, "\n  %s", a.command("settle", record.GetId(), field.GetName(), "--value", escaped(set.GetText())))
		}
	}
	return b.String()
}

func (a *app) seenAdvice(record *v1.Record, standing []*v1.Field, sets []*v1.Set) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s has values there that this command doesn't name, so nothing was changed:\n", record.GetTitle())
	rows := standingRows(standing)
	table(&b, "  ", rows)
	writeLong(&b, standing)
	words := []string{"set", record.GetId()}
	for _, set := range sets {
		if set.GetClear() {
			words = append(words, "--clear", set.GetField())
			continue
		}
		words = append(words, set.GetField()+"="+escaped(set.GetText()))
	}
	for _, row := range rows {
		// One entry may have written several of the fields.
		if id := row[len(row)-1]; !slices.Contains(words, id) {
			words = append(words, "--seen", id)
		}
	}
	fmt.Fprintf(&b, "to replace what you see here:\n  %s", a.command(words...))
	return b.String()
}

// standingRows lists values, their ids last. One id stands for all that say the
// same: who saw one saw them all.
func standingRows(fields []*v1.Field) [][]string {
	var rows [][]string
	for _, field := range fields {
		for _, group := range gathered(field.GetValues()) {
			rows = append(rows, []string{field.GetName(), cell(valueText(group[0])), origins(group), group[0].GetId()})
		}
	}
	return rows
}

// escaped keeps a value that begins with @ from being read as a file's name.
func escaped(value string) string {
	if strings.HasPrefix(value, "@") {
		return "@" + value
	}
	return value
}

// ownCommand finds a command for this laptop in a sentence of the node, which doesn't
// know by what folders it was called. What another laptop is to do isn't among them.
var ownCommand = regexp.MustCompile(`\bplumbline (accept|add|aside|conflicts|doubles|keep|list|open|retire|revoke|roster|run|same|set|settle|show|status)\b`)

// here lets the commands that a sentence advises work on the same folders.
func (a *app) here(sentence string) string {
	return ownCommand.ReplaceAllStringFunc(sentence, func(found string) string {
		_, name, _ := strings.Cut(found, " ")
		return a.command(name)
	})
}

// command is a command line for the same folders, to be pasted into a shell.
func (a *app) command(words ...string) string {
	line := []string{"plumbline"}
	if a.namedData != "" {
		line = append(line, "--data", a.namedData)
	}
	if a.namedState != "" {
		line = append(line, "--state", a.namedState)
	}
	line = append(line, words...)
	for i, word := range line {
		line[i] = quoted(word)
	}
	return strings.Join(line, " ")
}

// quoted protects a word from a POSIX shell.
func quoted(word string) string {
	plain := strings.IndexFunc(word, func(r rune) bool {
		return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.,/:=@%+", r)
	}) < 0
	if plain && word != "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

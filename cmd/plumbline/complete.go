package main

import (
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/record"
)

// Completion for shells. It reads the schema that the program was built with and
// opens nothing.

type completer = cobra.CompletionFunc

func complete(cmd *cobra.Command, flag string, with completer) {
	if err := cmd.RegisterFlagCompletionFunc(flag, with); err != nil {
		panic("plumbline: completing --" + flag + ": " + err.Error()) // no such flag: a slip in this file's callers
	}
}

func completeKinds(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var kinds []cobra.Completion
	for _, kind := range record.Stored().Kinds() {
		kinds = append(kinds, cobra.CompletionWithDesc(kind.Name, kind.Help))
	}
	return kinds, cobra.ShellCompDirectiveNoFileComp
}

func completeKindsThenFiles(cmd *cobra.Command, args []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
	if len(args) == 1 {
		return nil, cobra.ShellCompDirectiveDefault
	}
	return completeKinds(cmd, args, typed)
}

// completeAdd completes the kind, then field=, then a value of one of a few.
func completeAdd(cmd *cobra.Command, args []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return completeKinds(cmd, args, typed)
	}
	kind, err := record.Stored().KindByName(args[0])
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	if name, _, ok := strings.Cut(typed, "="); ok {
		return fieldValues(kind, name), cobra.ShellCompDirectiveNoFileComp
	}
	var fields []cobra.Completion
	for _, field := range kind.Fields() {
		end := "="
		if field.IsMap() {
			end = "."
		}
		fields = append(fields, cobra.CompletionWithDesc(field.Name+end, field.Label))
	}
	return fields, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
}

func fieldValues(kind *record.Kind, name string) []cobra.Completion {
	field, err := kind.FieldByName(name)
	if err != nil {
		return nil
	}
	var values []cobra.Completion
	for _, value := range field.Values() {
		values = append(values, name+"="+value)
	}
	return values
}

// completeFields completes the fields of the kind that the command line names.
func completeFields(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	name := "prospect"
	if len(args) > 0 {
		name = args[0]
	}
	kind, err := record.Stored().KindByName(name)
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var fields []cobra.Completion
	for _, field := range kind.Fields() {
		fields = append(fields, cobra.CompletionWithDesc(field.Name, field.Label))
	}
	return fields, cobra.ShellCompDirectiveNoFileComp
}

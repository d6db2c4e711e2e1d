package main

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"plumbline/node"
	"plumbline/node/importer"
	v1 "plumbline/proto/plumbline/v1"
)

// adviseImport adds to a refusal of a table's columns what to type. The node says
// what is wrong; which parts that are, the same reading of the table tells.
func adviseImport(req *v1.ImportRequest, refused error) error {
	options, err := node.TableOptions(node.ImportRequest{
		Kind: req.GetKind(), File: req.GetFile(), Headers: req.GetHeaders(), Defaults: req.GetDefaults(), Sheet: req.GetSheet(),
	})
	if err != nil {
		return refused
	}
	var m *importer.Misplaced
	if _, err := importer.Import(bytes.NewReader(req.GetData()), options); !errors.As(err, &m) {
		return refused
	}
	var b strings.Builder
	b.WriteString(refused.Error())
	if flags := mendingFlags(m, req); len(flags) > 0 {
		b.WriteString("\non the command line:\n  " + strings.Join(flags, "\n  "))
	}
	unguessed := func(f importer.Misfit) bool { return len(f.Near) == 0 }
	if slices.ContainsFunc(slices.Concat(m.Unknown, m.Unset), unguessed) {
		b.WriteString("\nthe fields of this table:\n")
		writeProse(&b, "  ", strings.Join(m.Fields, ", "))
	}
	return &advice{refused, strings.TrimRight(b.String(), "\n")}
}

// mendingFlags are what would mend it, each by itself a way.
func mendingFlags(m *importer.Misplaced, req *v1.ImportRequest) []string {
	var flags []string
	say := func(flag, name, value, why string) {
		flags = append(flags, fmt.Sprintf("--%s %s%s", flag, quoted(name+"="+value), why))
	}
	for _, unknown := range m.Unknown {
		for _, name := range orField(unknown.Near) {
			say("map", unknown.Name, name, "")
		}
		say("map", unknown.Name, importer.Ignored, " to leave it out")
	}
	for _, unset := range m.Unset {
		value := req.GetDefaults()[unset.Name]
		for _, name := range orField(unset.Near) {
			say("set", name, value, " in the place of --set "+quoted(unset.Name+"="+value))
		}
	}
	for _, unheard := range m.Unheard {
		for _, header := range unheard.Near {
			say("map", header, req.GetHeaders()[unheard.Name], "")
		}
	}
	for _, header := range m.Twice {
		say("map", header, importer.Ignored, " to leave it out")
	}
	for _, name := range m.Missing {
		say("map", "COLUMN", name, " for the column that holds it")
		if !slices.Contains(m.Each, name) {
			say("set", name, "VALUE", " for every row")
		}
	}
	return flags
}

// orField stands in for a field of which nobody can say which one was meant.
func orField(names []string) []string {
	if len(names) == 0 {
		return []string{"FIELD"}
	}
	return names
}

// orWithoutIDs adds to a refusal of rows what leaves out the column of their ids, where
// these are what is wrong.
func orWithoutIDs(req *v1.ImportRequest, wrong []*v1.RowError, refused error) error {
	if !slices.ContainsFunc(wrong, func(e *v1.RowError) bool { return e.GetColumn() == importer.RecordColumn }) {
		return refused
	}
	header := importer.RecordColumn
	for mapped, field := range req.GetHeaders() {
		if strings.EqualFold(field, importer.RecordColumn) {
			header = mapped
		}
	}
	return &advice{refused, fmt.Sprintf("%v; or, if the column %s holds no ids of an export, or those of another staff, leave it out:\n  --map %s",
		refused, header, quoted(header+"="+importer.Ignored))}
}

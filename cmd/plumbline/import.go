package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/importer"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

const importHelp = `Read a table, from a file or with - from standard input: CSV, or a sheet of a
workbook (XLSX), whose formulas are never calculated. Headers are field names or
their aliases; --map names others. Importing a file again, or on two
laptops, doubles nothing, and an import replaces only what it wrote itself from the
same source. When a row is wrong nothing of the file is stored, unless --partial
is given.

A file that export wrote is about the records that its column "record" names: what
was edited in it changes these and is your own word, also with --source: no later file
of a list replaces it. A row without an id is known by the list's own id,
else by name, school and class year. If it would enter a prospect of whom another one
here has the name, nothing is stored: --match takes it for the one who is here, for
good (same --apart undoes it), --new enters another player; row by row, the column
"record" says so with an id or "new". Such a row is known by the list's own id, else by
all that it says but measurements: read again it is the same player, edited it is one
more.`

func (a *app) importTable() *cobra.Command {
	req := &v1.ImportRequest{}
	var headers, defaults []string
	var namesakes func() v1.Namesakes
	cmd := &cobra.Command{
		Use: "import KIND FILE", Short: "Read a table (CSV, XLSX) of prospects, measurements, games, reps or evaluations",
		Long: importHelp,
		Example: `  plumbline import prospect north.csv --source "North list" --dry-run
  plumbline import prospect north.csv --source "North list" --match
  plumbline import rep film.csv --set prospect="Orrin Vale" --map "Dn=down" --map "Remarks=-"`,
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: completeKindsThenFiles,
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			req.Kind, req.File = args[0], filepath.Base(args[1])
			req.Namesakes = namesakes()
			if req.Headers, err = readPairs("map", headers); err != nil {
				return err
			}
			if req.Defaults, err = readPairs("set", defaults); err != nil {
				return err
			}
			if req.Data, err = a.readTable(args[1]); err != nil {
				return err
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error { return a.importInto(ctx, c, req) })
		},
	}
	flags := cmd.Flags()
	flags.StringArrayVarP(&headers, "map", "m", nil, "header=field, or header=- to leave a column out")
	flags.StringArrayVar(&defaults, "set", nil, "field=value for every row")
	flags.StringVar(&req.Source, "source", "", "the list's name, the same for all who import it (default: list)")
	flags.StringVar(&req.Sheet, "sheet", "", "the sheet of a workbook (default: its first)")
	namesakes = namesakeFlags(cmd)
	flags.BoolVar(&req.DryRun, "dry-run", false, "say what would happen, write nothing")
	flags.BoolVar(&req.Partial, "partial", false, "write the good rows although there are wrong ones")
	return cmd
}

// readPairs reads name=value flags. Names and values may hold commas.
func readPairs(flag string, given []string) (map[string]string, error) {
	pairs := map[string]string{}
	for _, text := range given {
		name, value, ok := strings.Cut(text, "=")
		if !ok || name == "" {
			return nil, usagef("--%s %q isn't name=value", flag, text)
		}
		pairs[name] = value
	}
	return pairs, nil
}

func (a *app) readTable(name string) ([]byte, error) {
	from := a.in
	if name != "-" {
		file, err := os.Open(name)
		if err != nil {
			return nil, fmt.Errorf("reading the table: %w", err)
		}
		defer file.Close()
		from = file
	}
	data, err := io.ReadAll(io.LimitReader(from, rpc.MaxTable+1))
	if err != nil {
		return nil, fmt.Errorf("reading the table: %w", err)
	}
	if len(data) > rpc.MaxTable {
		return nil, fmt.Errorf("%s holds more than %d MB, the most that one import takes: split it", name, rpc.MaxTable>>20)
	}
	return data, nil
}

func (a *app) importInto(ctx context.Context, c *rpc.Client, req *v1.ImportRequest) error {
	p := a.progress("importing " + req.GetFile())
	answer, err := c.Ledger.Import(ctx, req)
	p.stop()
	if err = rpc.Err(err); errors.Is(err, node.ErrInvalid) {
		return adviseImport(req, err)
	}
	if err != nil {
		return err
	}
	if !a.json {
		writeTrouble(a.err, answer)
	}
	if err := a.print(answer, func(w io.Writer) {
		writeChanges(w, answer)
		writeImport(w, answer)
	}); err != nil {
		return err
	}
	switch {
	case req.GetPartial():
		return nil
	case len(answer.GetErrors()) > 0:
		return orWithoutIDs(req, answer.GetErrors(), wrongRows(answer.GetErrors()))
	case answer.GetNamesakeRows() > 0:
		return namesakeRows(answer)
	}
	return nil
}

// wrongRows counts the rows that are wrong, and in how many cells. A row that is
// wrong as a whole, such as a duplicate, has no wrong cell.
func wrongRows(errors []*v1.RowError) error {
	lines, cells := map[uint32]bool{}, 0
	for _, e := range errors {
		lines[e.GetLine()] = true
		if e.GetColumn() != "" {
			cells++
		}
	}
	atLeast := ""
	if len(errors) >= importer.MaxProblems {
		atLeast = "at least "
	}
	text := atLeast + counted(len(lines), "row is wrong", "rows are wrong")
	if cells > 0 {
		text += ", in " + counted(cells, "cell", "cells")
	}
	return fmt.Errorf("%s; nothing of the file was stored: correct it, or write the good rows with --partial", text)
}

// writeTrouble says what is wrong with the table, and what to look at.
func writeTrouble(w io.Writer, answer *v1.ImportResponse) {
	for _, e := range answer.GetErrors() {
		where := fmt.Sprintf("%s:%d", e.GetFile(), e.GetLine())
		switch {
		case e.GetCell() != "":
			where = fmt.Sprintf("%s, sheet %s, cell %s", e.GetFile(), e.GetSheet(), e.GetCell())
		case e.GetSheet() != "":
			where = fmt.Sprintf("%s, sheet %s, row %d", e.GetFile(), e.GetSheet(), e.GetLine())
		}
		if e.GetColumn() != "" {
			where += ": " + e.GetColumn()
		}
		if e.GetValue() != "" {
			where += fmt.Sprintf(" %q", e.GetValue())
		}
		fmt.Fprintf(w, "%s: %s\n", where, e.GetRule())
	}
	for _, remark := range answer.GetRemarks() {
		fmt.Fprintf(w, "look at this: %s\n", remark)
	}
	writeNamesakes(w, answer)
}

func writeImport(w io.Writer, answer *v1.ImportResponse) {
	done := []string{
		counted(int(answer.GetRows()), "row", "rows"), fmt.Sprintf("%d added%s", answer.GetAdded(), addedKinds(answer)),
		fmt.Sprintf("%d changed", answer.GetChanged()), fmt.Sprintf("%d unchanged", answer.GetUnchanged()),
	}
	if n := int(answer.GetSkipped()); n > 0 {
		done = append(done, counted(n, "row", "rows")+" left out")
	}
	if n := int(answer.GetConflicts()); n > 0 {
		done = append(done, counted(n, "field", "fields")+" in conflict now")
	}
	if answer.GetDryRun() {
		done = append(done, "nothing written")
	}
	fmt.Fprintln(w, strings.Join(done, ", "))
}

// addedKinds says of what kinds the new records are, since a row makes several:
// nothing where the answer doesn't tell of all of them.
func addedKinds(answer *v1.ImportResponse) string {
	counts := map[string]int{}
	told := 0
	for _, record := range answer.GetRecords() {
		if record.GetAdded() {
			counts[record.GetKind()]++
			told++
		}
	}
	if told == 0 || told != int(answer.GetAdded()) {
		return ""
	}
	var kinds []string
	for _, kind := range slices.Sorted(maps.Keys(counts)) {
		kinds = append(kinds, counted(counts[kind], kind, kind+"s"))
	}
	return " (" + strings.Join(kinds, ", ") + ")"
}

package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"plumbline/node/importer"
	v1 "plumbline/proto/plumbline/v1"
)

// namesakeFlags let it be said what rows are about that have the name of a prospect
// who is here.
func namesakeFlags(cmd *cobra.Command) func() v1.Namesakes {
	var match, another bool
	cmd.Flags().BoolVar(&match, "match", false, "rows with the name of a prospect who is here are about that one")
	cmd.Flags().BoolVar(&another, "new", false, "they are about other players of that name")
	cmd.MarkFlagsMutuallyExclusive("match", "new")
	return func() v1.Namesakes {
		switch {
		case match:
			return v1.Namesakes_NAMESAKES_MATCH
		case another:
			return v1.Namesakes_NAMESAKES_NEW
		}
		return v1.Namesakes_NAMESAKES_UNSPECIFIED
	}
}

// namesakeRows asks what becomes of rows that have the name of somebody who is here.
func namesakeRows(answer *v1.ImportResponse) error {
	have := "have"
	if answer.GetNamesakeRows() == 1 {
		have = "has"
	}
	return fmt.Errorf("%d of %s %s the name of a prospect who is here already; nothing of the file was stored: import it with --match if they are the same players, with --new if they are others, "+
		"with --partial to leave them out, or say it row by row in a column %q, with the id or %s",
		answer.GetNamesakeRows(), counted(int(answer.GetRows()), "row", "rows"), have, importer.RecordColumn, importer.AnotherOne)
}

// writeNamesakes lists such rows, each with who is here.
func writeNamesakes(w io.Writer, answer *v1.ImportResponse) {
	rows := make([][]string, 0, len(answer.GetNamesakes()))
	lines := map[uint32]bool{}
	for _, one := range answer.GetNamesakes() {
		rows = append(rows, []string{fmt.Sprintf("line %d:", one.GetLine()), one.GetRow(), "is here: " + one.GetStanding(), one.GetRecord()})
		lines[one.GetLine()] = true
	}
	table(w, "", rows)
	if more := int(answer.GetNamesakeRows()) - len(lines); more > 0 {
		fmt.Fprintf(w, "and %s like these\n", counted(more, "row", "rows"))
	}
}

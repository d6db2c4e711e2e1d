package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) export() *cobra.Command {
	req := &v1.ExportRequest{}
	var output string
	cmd := &cobra.Command{
		Use: "export [KIND]", Short: "Write the records that match as a table (CSV, XLSX)",
		Long: `Write the records that match as a table, to standard output or to a new file that
--output names. Without --columns it holds every field of the kind, so that import can
read back what was edited there, and the figures that list shows.`,
		Example: `  plumbline export prospect --where 'position == "tackle"' --output tackles.xlsx`,
		Args:    cobra.MaximumNArgs(1), ValidArgsFunction: completeKinds,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				req.Kind = args[0]
			}
			var err error
			if req.Format, err = tableFormat(req.GetFormat(), output); err != nil {
				return err
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				p := a.progress("exporting")
				answer, err := c.Ledger.Export(ctx, req)
				p.stop()
				if err != nil {
					return err
				}
				if output != "" {
					if err := writeNew(output, answer.GetData(), 0o666); err != nil {
						return err
					}
					return a.print(answer, func(w io.Writer) {
						fmt.Fprintf(w, "%s in %s\n", counted(int(answer.GetRows()), "row", "rows"), output)
					})
				}
				return a.print(answer, func(w io.Writer) { _, _ = w.Write(answer.GetData()) }) // into memory
			})
		},
	}
	flags := cmd.Flags()
	flags.StringVarP(&req.Where, "where", "w", "", "expression that a record must match")
	flags.StringSliceVarP(&req.Columns, "columns", "c", nil, "fields and figures to write (default: every field, and the usual figures)")
	flags.StringVarP(&output, "output", "o", "", "new file to write to (default standard output)")
	flags.StringVar(&req.Format, "format", "", "csv or xlsx (default: by the file's ending, else csv)")
	complete(cmd, "columns", completeFields)
	return cmd
}

// tableFormat is what a table is written as: what was asked for, else what the
// file's ending says, else CSV. An ending that stands for something else is
// refused: a file that isn't what it is called opens nowhere.
func tableFormat(asked, output string) (string, error) {
	switch ending := filepath.Ext(output); cmp.Or(asked, strings.ToLower(ending)) {
	case "csv", "xlsx":
		if called := strings.ToLower(ending); (called == ".csv" || called == ".xlsx") && called != "."+asked {
			return "", usagef("--format %s and a file called %s don't go together: leave --format out, or name the file .%[1]s", asked, ending)
		}
		return asked, nil
	case "", ".":
		return "csv", nil
	case ".csv", ".xlsx":
		return strings.ToLower(ending[1:]), nil
	default:
		if asked != "" {
			return "", usagef("no table can be written as %q: there are --format csv and --format xlsx", asked)
		}
		return "", usagef("no table can be written as %s: name the file .csv or .xlsx, or say what it is to hold with --format csv or --format xlsx", ending)
	}
}

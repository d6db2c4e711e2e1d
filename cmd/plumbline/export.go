package main

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
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
--output names.`,
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
	flags.StringSliceVarP(&req.Columns, "columns", "c", nil, "fields and figures to write")
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

// writeNew writes a file that doesn't exist yet, whole or not at all.
func writeNew(name string, data []byte, mode os.FileMode) error {
	if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("writing a new file: %w", cmp.Or(err, nameTaken(name)))
	}
	// Under a passing name of its own: somebody else may be writing a file of the
	// same name into the same folder.
	part := filepath.Join(filepath.Dir(name), fmt.Sprintf(".%s.%s.part", filepath.Base(name), rand.Text()[:8]))
	err := writePart(part, data, mode)
	if err == nil {
		err = putInPlace(part, name)
	}
	_ = os.Remove(part) // it has its name, or failed: nothing of it stays
	var pathed *fs.PathError
	var linked *os.LinkError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist):
		err = fmt.Errorf("there is no folder %s", filepath.Dir(name))
	case errors.As(err, &pathed):
		pathed.Path = name // the passing one would only puzzle
	case errors.As(err, &linked):
		err = &fs.PathError{Op: linked.Op, Path: name, Err: linked.Err}
	}
	return fmt.Errorf("writing a new file: %w", err)
}

func writePart(part string, data []byte, mode os.FileMode) error {
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	if _, err = file.Write(data); err == nil {
		err = file.Sync()
	}
	return cmp.Or(err, file.Close())
}

// putInPlace gives a file its name, which may have been taken meanwhile: Link, unlike
// Rename, never overwrites. Where a file system has no links, the name is taken first
// with an empty file, and only that is overwritten.
func putInPlace(part, name string) error {
	err := os.Link(part, name)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrExist):
		return nameTaken(name)
	}
	return renameIntoFree(part, name)
}

func renameIntoFree(part, name string) error {
	taken, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if err = taken.Close(); err == nil {
		err = os.Rename(part, name)
	}
	if err != nil {
		_ = os.Remove(name) // the empty file
	}
	return err
}

func nameTaken(name string) error { return &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist} }

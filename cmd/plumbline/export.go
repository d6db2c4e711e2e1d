package main

import (
	"cmp"
	"context"
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
			if req.Format == "" && strings.EqualFold(filepath.Ext(output), ".xlsx") {
				req.Format = "xlsx"
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

// writeNew writes a file that doesn't exist yet, whole or not at all.
func writeNew(name string, data []byte, mode os.FileMode) error {
	if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("writing a new file: %w", cmp.Or(err, nameTaken(name)))
	}
	// Under a passing name, always the same: what an attempt left on a disk that
	// could no longer be written goes with the next one.
	part := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+".part")
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("writing a new file: %w", err)
	}
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if errors.Is(err, fs.ErrNotExist) { // the passing name would only puzzle
		err = fmt.Errorf("there is no folder %s", filepath.Dir(name))
	}
	if err != nil {
		return fmt.Errorf("writing a new file: %w", err)
	}
	if _, err = file.Write(data); err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Close()); err == nil {
		err = putInPlace(part, name)
	}
	_ = os.Remove(part) // it has its name, or failed: nothing of it stays
	if err != nil {
		return fmt.Errorf("writing a new file: %w", err)
	}
	return nil
}

// putInPlace gives a file its name, which may have been taken meanwhile: Link, unlike
// Rename, never overwrites. Where a file system has no links, it is renamed.
func putInPlace(part, name string) error {
	err := os.Link(part, name)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrExist):
		return nameTaken(name)
	}
	return os.Rename(part, name)
}

func nameTaken(name string) error { return &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist} }

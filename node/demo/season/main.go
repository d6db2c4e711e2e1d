// Command season fills a new laptop with what a staff of forty gathers in a
// year: 3,000 prospects and 300,000 reps of an invented world. It is what speed
// is measured on, on the page (node/web/season) and by hand:
//
//	go run ./node/demo/season /tmp/season
//	plumbline --data /tmp/season/data --state /tmp/season/state run --open
//
// It makes a staff of its own in an empty folder and adds to none that is there.
// It takes a minute or two and half a gigabyte of disk.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"time"

	"plumbline/node"
	"plumbline/node/demo"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "season: name one new folder: season FOLDER")
		os.Exit(2)
	}
	// One person imports it all, so that two scouts' looks at one prospect in one
	// game are one: with more reps to a look, one look at each comes to as many.
	size := demo.Season
	size.RepsPerLook = 63
	if err := fill(ctx, os.Args[1], size, os.Stderr); err != nil {
		fmt.Fprintf(os.Stderr, "season: %v\n", err)
		os.Exit(1)
	}
}

// fill makes the laptop beside the folder first and names it last, so that a
// folder that is there is whole.
func fill(ctx context.Context, folder string, size demo.Size, say io.Writer) error {
	if _, err := os.Stat(folder); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already: name a new folder, or delete it", folder)
	}
	half := folder + ".half"
	if err := os.RemoveAll(half); err != nil {
		return err
	}
	n, err := node.Open(ctx, node.Config{Data: filepath.Join(half, "data"), State: filepath.Join(half, "state"), Now: demo.Clock(time.Now)})
	if err != nil {
		return err
	}
	if err := errors.Join(gather(ctx, n, demo.New(1, size), say), n.Close()); err != nil {
		return err
	}
	return os.Rename(half, folder)
}

// gather imports the tables of the whole staff, and asks for the list once, since
// the first one after an import works out every prospect's figures.
func gather(ctx context.Context, n *node.Node, w *demo.World, say io.Writer) error {
	director := w.People[demo.Director]
	if _, _, err := n.Found(ctx, w.Staff, director.Name, director.Laptop); err != nil {
		return err
	}
	began, rows := time.Now(), 0
	for person := range w.People {
		for _, t := range w.Tables(demo.PersonIndex(person)) {
			report, err := n.Import(ctx, node.ImportRequest{Kind: t.Kind, Data: t.Data, File: t.File, Source: demo.Source})
			if err != nil {
				return err
			}
			if len(report.Errors) > 0 {
				return fmt.Errorf("%s has wrong cells, which the invented world shouldn't make: %v", t.File, report.Errors[0])
			}
			rows += report.Rows
		}
		fmt.Fprintf(say, "%d of %d tables of the staff, %d rows, %v\n", person+1, len(w.People), rows, time.Since(began).Round(time.Second))
	}
	_, err := n.List(ctx, node.ListQuery{Limit: 1})
	return err
}

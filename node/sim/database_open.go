package sim

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// openDatabase is a store on a [database], in whose writing the power may fail.
type openDatabase struct {
	*storage.Store
	disk *database
}

// Append implements [node.Ledger].
func (o *openDatabase) Append(ctx context.Context, runs ...entry.Run) (outcome storage.Outcome, err error) {
	f := &o.disk.faults
	if f.failing > 0 && f.late {
		// The transaction has begun when it fails, and must leave nothing.
		ctx, f.late = &interrupted{Context: ctx, left: 1}, false
		f.failing--
		f.count.add("disk error")
	} else if err := f.fails("append"); err != nil {
		return storage.Outcome{}, o.leave(err, func(s *storage.Store) error {
			_, err := s.Append(background, runs...)
			return err
		})
	}
	o.write(func() { outcome, err = o.Store.Append(ctx, runs...) })
	return outcome, err
}

// SetMeta implements [node.Inside].
func (o *openDatabase) SetMeta(ctx context.Context, key string, value []byte) (err error) {
	if err := o.disk.faults.fails("store " + key); err != nil {
		return o.leave(err, func(s *storage.Store) error { return s.SetMeta(background, key, value) })
	}
	o.write(func() { err = o.Store.SetMeta(ctx, key, value) })
	return err
}

// tidy does a part of what a laptop does when nothing comes.
func (o *openDatabase) tidy(limit int) (err error) {
	if err := o.disk.faults.fails("tidy"); err != nil {
		return err
	}
	o.write(func() { _, err = o.Store.IndexWords(background, limit) })
	return err
}

// leave carries out, if a refusal was one to make it durable, what was refused, in a
// copy of the file: that is what may lie there after a loss of power.
func (o *openDatabase) leave(refused error, do func(*storage.Store) error) error {
	if !errors.Is(refused, storage.ErrUnsynced) {
		return refused
	}
	d := o.disk
	d.forget()
	folder, err := d.folders.next()
	if err != nil {
		return err
	}
	if err := copyDatabase(d.folder, folder, d.size()); err != nil {
		return err
	}
	s, err := storage.Open(background, filepath.Join(folder, mainFile), storage.Options{Staff: o.Staff(), Projector: node.Projector()})
	if err != nil {
		return err
	}
	if err := do(s); err != nil {
		return errors.Join(refused, s.Close(), os.RemoveAll(folder)) // it would have been refused anyway
	}
	if err := s.Close(); err != nil {
		return err
	}
	d.left = folder
	return refused
}

// write runs a transaction. If the power fails within it, the log is cut
// somewhere in what it wrote.
func (o *openDatabase) write(transaction func()) {
	f := &o.disk.faults
	if f.moment("before write") {
		panic(died{})
	}
	o.disk.forget()
	transaction()
	if f.moment("within commit") {
		panic(died{})
	}
	o.disk.synced()
	if f.moment("synced") {
		panic(died{})
	}
}

// Range implements [exchange.Holdings].
func (o *openDatabase) Range(log entry.LogID, after, upto entry.Point, max int) ([]entry.Raw, []entry.SignedPoint, error) {
	if err := o.disk.faults.failsReading("read entries"); err != nil {
		return nil, nil, err
	}
	return o.Store.Range(log, after, upto, max)
}

// Close is a clean end, unless the power fails while the log is brought over
// into the file: then some pages of the file are new and the log is whole.
func (o *openDatabase) Close() error {
	d := o.disk
	d.forget()
	if !d.faults.moment("at close") {
		d.open, d.torn = nil, false
		return o.Store.Close()
	}
	folder, err := d.folders.next()
	if err != nil {
		return err
	}
	if err := copyDatabase(d.folder, folder, d.size()); err != nil {
		return err
	}
	d.open = nil
	if err := o.Store.Close(); err != nil {
		return err
	}
	if err := tear(filepath.Join(d.folder, mainFile), filepath.Join(folder, mainFile)); err != nil {
		return err
	}
	old := d.folder
	d.folder, d.torn = folder, true
	return os.RemoveAll(old)
}

// tear puts every other page of one file into another, older one.
func tear(from, into string) error {
	const page = 4096
	fresh, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	torn, err := os.ReadFile(into)
	if err != nil {
		return err
	}
	for at := page; at+page <= min(len(fresh), len(torn)); at += 2 * page {
		copy(torn[at:at+page], fresh[at:])
	}
	return os.WriteFile(into, torn, 0o600)
}

// interrupted is a context that ends after it was looked at a number of times.
type interrupted struct {
	context.Context
	left int
}

func (c *interrupted) Err() error {
	if c.left--; c.left < 0 {
		return context.Canceled
	}
	return nil
}

func (c *interrupted) Deadline() (time.Time, bool) { return time.Time{}, false }

package sim

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// database is a disk with a real SQLite file and its write-ahead log. A loss of
// power is a copy of both as they lie there at that moment, the log cut at any
// byte behind what was synced.
type database struct {
	folders *folders
	folder  string
	faults  faults
	open    *openDatabase
	// durable is how much of the log was synced when a transaction last returned.
	durable int64
	// torn is set while the file is whole only together with its log: then losing
	// what was synced of the log is more than any database outlives.
	torn bool
	// left is a copy with what the disk took last and refused to make durable.
	left string
}

// forget drops what was left: the next write lies where it lay.
func (d *database) forget() {
	if d.left != "" {
		_ = os.RemoveAll(d.left)
		d.left = ""
	}
}

// folders hands out new folders, all within one of a world's own.
type folders struct {
	parent, root string
	last         int
}

func (f *folders) next() (folder string, err error) {
	if f.root == "" {
		if f.root, err = os.MkdirTemp(f.parent, "world-*"); err != nil {
			return "", err
		}
	}
	f.last++
	folder = filepath.Join(f.root, fmt.Sprint(f.last))
	return folder, os.Mkdir(folder, 0o700)
}

func (f *folders) remove() error {
	if f.root == "" {
		return nil
	}
	return os.RemoveAll(f.root)
}

const (
	mainFile = "plumbline.db"
	logFile  = mainFile + "-wal"
)

func newDatabase(f *folders, c Counts) (*database, error) {
	folder, err := f.next()
	return &database{folders: f, folder: folder, faults: faults{count: c}}, err
}

// Open implements [Disk].
func (d *database) Open(staff entry.StaffID) (Store, error) {
	s, err := storage.Open(context.Background(), filepath.Join(d.folder, mainFile),
		storage.Options{Staff: staff, Projector: node.Projector()})
	if err != nil {
		return nil, err
	}
	d.open = &openDatabase{Store: s, disk: d}
	d.synced()
	return d.open, nil
}

func (d *database) size() int64 {
	info, err := os.Stat(filepath.Join(d.folder, logFile))
	if err != nil {
		return 0
	}
	return info.Size()
}

func (d *database) synced() { d.durable = d.size() }

// Die implements [Disk].
func (d *database) Die(dice *dice) error {
	d.faults.crash = 0
	if d.open == nil {
		return nil
	}
	if d.left != "" && dice.one(2) {
		d.faults.count.add(unconfirmed)
		return d.takeUp()
	}
	d.forget()
	end := d.size()
	cut := d.durable
	if end > cut {
		cut += dice.Int64N(end - cut + 1)
		if cut < end {
			d.faults.count.add("torn write")
		}
	}
	return d.move(cut)
}

// takeUp goes on with what was left.
func (d *database) takeUp() error {
	err := errors.Join(d.open.Store.Close(), os.RemoveAll(d.folder))
	d.folder, d.left, d.open, d.durable, d.torn = d.left, "", nil, 0, false
	return err
}

// Lie implements [Disk].
func (d *database) Lie(dice *dice) error {
	cut := dice.Int64N(d.size() + 1)
	if d.torn {
		cut = d.size()
	}
	return d.move(cut)
}

// move goes on in a copy whose log is cut, and leaves the old folder behind.
func (d *database) move(cut int64) error {
	old := d.folder
	folder, err := d.folders.next()
	if err != nil {
		return err
	}
	if err := copyDatabase(old, folder, cut); err != nil {
		return err
	}
	if d.open != nil {
		err = d.open.Store.Close()
		d.open = nil
	}
	d.folder, d.durable = folder, 0
	return errors.Join(err, os.RemoveAll(old))
}

// copyDatabase copies the file and so much of the log.
func copyDatabase(from, to string, cut int64) error {
	for name, size := range map[string]int64{mainFile: -1, logFile: cut} {
		if err := copyPart(filepath.Join(from, name), filepath.Join(to, name), size); err != nil {
			return err
		}
	}
	return nil
}

func copyPart(from, to string, size int64) error {
	in, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	if size < 0 {
		_, err = io.Copy(out, in)
	} else if _, err = io.CopyN(out, in, size); errors.Is(err, io.EOF) {
		err = nil
	}
	return errors.Join(err, out.Close())
}

// Copy implements [Disk].
func (d *database) Copy() (Disk, error) {
	c, err := newDatabase(d.folders, d.faults.count)
	if err != nil {
		return nil, err
	}
	c.torn = d.torn
	return c, copyDatabase(d.folder, c.folder, d.size())
}

// Backup implements [Disk].
func (d *database) Backup() (Disk, error) {
	c, err := newDatabase(d.folders, d.faults.count)
	if err != nil {
		return nil, err
	}
	return c, d.open.Store.Backup(context.Background(), filepath.Join(c.folder, mainFile), nil)
}

// Faults implements [Disk].
func (d *database) Faults() *faults { return &d.faults }

// Gone implements [Disk].
func (d *database) Gone() {
	if d.open != nil {
		_ = d.open.Store.Close() // nothing of it is used any more
		d.open = nil
	}
	d.forget()
	_ = os.RemoveAll(d.folder)
}

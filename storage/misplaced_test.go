package storage

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"plumbline/storage/storagetest"
	"plumbline/sync/entry"
)

// copies are a database at rest and a backup of it, to be damaged.
type copies struct {
	folder string
	files  map[string][]byte
	want   string      // what they hold
	more   []entry.Run // what comes next
}

func newCopies(t *testing.T) copies {
	t.Helper()
	w := soundWorld()
	late := len(w.Facts) - 1
	c := copies{folder: t.TempDir(), files: map[string][]byte{}, more: since(w, late)}
	rest, backup := filepath.Join(c.folder, "rest"), filepath.Join(c.folder, "backup")
	s := openAt(t, rest, Options{Staff: w.Staff, Projector: projector{}})
	s.append(t, runs(w, w.Facts[:late], always)...)
	c.want = s.dump(t)
	check(t, s.Backup(context.Background(), backup, nil))
	check(t, s.Close())
	for _, path := range []string{rest, backup} {
		data, err := os.ReadFile(path)
		check(t, err)
		c.files[filepath.Base(path)] = data
	}
	return c
}

// refused reports whether a damaged file is refused, by opening or by verify.
// One that isn't holds what it held, and takes what comes.
func (c copies) refused(t *testing.T, what string, data []byte) bool {
	t.Helper()
	path := filepath.Join(c.folder, "damaged")
	for _, beside := range []string{"-wal", "-shm"} {
		_ = os.Remove(path + beside) // of the last one; there may be none
	}
	check(t, os.WriteFile(path, data, 0o600))
	reader, err := c.open(path, true)
	if err != nil && !errors.Is(err, ErrCorrupt) && !errors.Is(err, ErrNewer) && !errors.Is(err, ErrOlder) {
		t.Errorf("%s, read only: %v", what, err)
	}
	if err == nil {
		check(t, reader.Close())
	}
	writer, failed := c.open(path, false)
	if failed != nil {
		if !errors.Is(failed, ErrCorrupt) && !errors.Is(failed, ErrNewer) {
			t.Errorf("%s: %v", what, failed)
		}
		if err == nil {
			t.Errorf("%s: would be restored, and can't be used: %v", what, failed)
		}
		return true
	}
	defer func() { check(t, writer.Close()) }()
	same(t, what, writer.dump(t), c.want)
	if _, err := writer.Append(context.Background(), c.more...); err != nil {
		t.Errorf("%s: append: %v", what, err)
	}
	return false
}

// open opens and verifies.
func (c copies) open(path string, readOnly bool) (*Store, error) {
	s, err := Open(context.Background(), path, Options{ReadOnly: readOnly, Projector: projector{}})
	if err != nil {
		return nil, err
	}
	report, err := s.Verify(context.Background(), nil)
	if err == nil && len(report.Faults) > 0 {
		err = fmt.Errorf("%w: %s", ErrCorrupt, report.Faults[0])
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// TestEveryBitOfTheHeader turns each bit of a backup's first hundred bytes, which
// tell SQLite how to read all others:
// https://www.sqlite.org/fileformat2.html#the_database_header. A database at rest
// differs in the two that name its kind of log.
func TestEveryBitOfTheHeader(t *testing.T) {
	c := newCopies(t)
	for name, bytesOf := range map[string][2]int{"backup": {0, 100}, "rest": {18, 20}} {
		refused := 0
		for bit := 8 * bytesOf[0]; bit < 8*bytesOf[1]; bit++ {
			data := bytes.Clone(c.files[name])
			data[bit/8] ^= 1 << (bit % 8)
			if c.refused(t, fmt.Sprintf("%s: bit %d of byte %d", name, bit%8, bit/8), data) {
				refused++
			}
		}
		t.Logf("%s: %d of %d turned bits are refused, with the others all is there", name, refused, 8*(bytesOf[1]-bytesOf[0]))
		if refused < 2*(bytesOf[1]-bytesOf[0]) {
			t.Error("too little was hurt to show anything")
		}
	}
}

// TestEveryPageInThePlaceOfAnother writes each page of a backup over each other
// one, as a disk does that takes one address for another.
func TestEveryPageInThePlaceOfAnother(t *testing.T) {
	const size = 4096
	c := newCopies(t)
	sound := c.files["backup"]
	refused, harmless := 0, 0
	for to := 0; to < len(sound); to += size {
		for from := 0; from < len(sound); from += size {
			if bytes.Equal(sound[from:from+size], sound[to:to+size]) {
				continue
			}
			data := bytes.Clone(sound)
			copy(data[to:], sound[from:from+size])
			if c.refused(t, fmt.Sprintf("page %d in the place of %d", from/size+1, to/size+1), data) {
				refused++
			} else {
				harmless++
			}
		}
	}
	t.Logf("%d of %d are refused, with the others all is there", refused, refused+harmless)
	if refused < harmless {
		t.Error("too little was hurt to show anything")
	}
}

// TestTurnedBits turns single bits anywhere: rows that are out of order on their
// page once sent a walk in circles. PLUMBLINE_TEST_BITS is how many (100).
func TestTurnedBits(t *testing.T) {
	rounds := 100
	if given := os.Getenv("PLUMBLINE_TEST_BITS"); given != "" {
		var err error
		rounds, err = strconv.Atoi(given)
		check(t, err)
	}
	random := storagetest.Seeded(t)
	c := newCopies(t)
	refused := 0
	for round := range rounds {
		name := []string{"backup", "rest"}[round%2]
		data := bytes.Clone(c.files[name])
		bit := random.IntN(8 * len(data))
		data[bit/8] ^= 1 << (bit % 8)
		what := fmt.Sprintf("%s: bit %d of byte %d", name, bit%8, bit/8)
		watch := time.AfterFunc(time.Minute, func() { panic(what + ": no end") })
		if c.refused(t, what, data) {
			refused++
		}
		watch.Stop()
	}
	t.Logf("%d of %d turned bits are refused, with the others all is there", refused, rounds)
}

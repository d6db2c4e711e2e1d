package storage

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Damage tells of a log that was damaged when the database was opened after a
// crash.
type Damage struct {
	// Kept is where the damaged log lies.
	Kept string `json:"kept"`
	// Whole is set when it could be mended: nothing is missing.
	Whole bool `json:"whole"`
	// After is when the last of this laptop's own entries was written that is still
	// held, in milliseconds since 1970, for display; 0 for none.
	After int64 `json:"after"`
}

const (
	kept = logEnd + ".damaged-"
	// keptLogs is how many damaged logs are kept, the newest.
	keptLogs  = 3
	keyDamage = own + "damage"
)

// noteDamage keeps the damaged log, and what is told of it, with the opened
// database.
func (s *Store) noteDamage(ctx context.Context, done *mended) error {
	if done == nil {
		return nil
	}
	if done.refold && !s.Blocked() {
		if err := s.Rebuild(ctx); err != nil {
			return err
		}
	}
	told, err := s.damages(s.writer.query)
	if err != nil {
		return err
	}
	d := Damage{Whole: done.whole}
	if d.Kept, err = s.nextKept(); err != nil {
		return err
	}
	if !d.Whole {
		if d.After, err = s.lastOf(s.device); err != nil {
			return err
		}
	}
	// Who was stopped between these two is told of it once all the same.
	told = slices.DeleteFunc(told, func(before Damage) bool { return filepath.Base(before.Kept) == filepath.Base(d.Kept) })
	if err := s.setDamages(append(told, d)); err != nil {
		return err
	}
	if err := os.Rename(s.path+decided(d.Whole), d.Kept); err != nil {
		return fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	return flushFolder(filepath.Dir(s.path))
}

// nextKept is the name under which the next damaged log is kept. It makes room.
func (s *Store) nextKept() (string, error) {
	files, err := os.ReadDir(filepath.Dir(s.path))
	if err != nil {
		return "", fmt.Errorf("%w (%w)", ErrDisk, err)
	}
	var numbers []int
	for _, file := range files {
		number, is := strings.CutPrefix(file.Name(), filepath.Base(s.path)+kept)
		if n, err := strconv.Atoi(number); is && err == nil {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	next := 1
	if len(numbers) > 0 {
		next += numbers[len(numbers)-1]
	}
	for len(numbers) >= keptLogs {
		if err := os.Remove(s.path + kept + strconv.Itoa(numbers[0])); err != nil {
			return "", fmt.Errorf("%w (%w)", ErrDisk, err)
		}
		numbers = numbers[1:]
	}
	return s.path + kept + strconv.Itoa(next), nil
}

// lastOf is when the last entry was written that is held of a device.
func (s *Store) lastOf(device entry.DeviceID) (last int64, err error) {
	for n, b := range s.held.Load().branches {
		if b.log.device != device {
			continue
		}
		var header []byte
		tip := keyOf(merge.Place{Branch: merge.Branch(n), Seq: b.tip.Seq})
		if _, err := querier(s.writer.query).one("SELECT header FROM entry WHERE n = ?", []any{tip}, &header); err != nil {
			return last, err
		}
		if h, err := entry.DecodeHeader(header); err == nil {
			last = max(last, h.Wall)
		}
	}
	return last, nil
}

// Damages lists the logs that were damaged when the database was opened, until
// they are forgotten.
func (s *Store) Damages(ctx context.Context) ([]Damage, error) {
	told, err := s.damages(s.readers.bind(ctx))
	return told, failure("read what was damaged", err)
}

func (s *Store) damages(q querier) (told []Damage, err error) {
	var data []byte
	if _, err := q.one("SELECT value FROM meta WHERE key = ?", []any{keyDamage}, &data); err != nil || len(data) == 0 {
		return nil, err
	}
	_ = json.Unmarshal(data, &told) // what can't be read was told before, or is
	return told, nil
}

func (s *Store) setDamages(told []Damage) error {
	data, err := json.Marshal(told)
	if err != nil {
		return err
	}
	return s.writer.transact(func() error { return s.writer.setMeta(keyDamage, data) })
}

// ForgetDamages says that a person has been told of them. The files stay.
func (s *Store) ForgetDamages(ctx context.Context) error {
	told, err := s.Damages(ctx)
	if err != nil || len(told) == 0 {
		return err
	}
	return s.update(ctx, "forget what was damaged", func() error { return s.writer.setMeta(keyDamage, nil) })
}

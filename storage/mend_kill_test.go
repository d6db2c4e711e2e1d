package storage

import (
	"bytes"
	"fmt"
	"os"
	"testing"
)

// TestMendingIsKilledOnceItIsDecided stops at a moment after the log to go on with
// was chosen and before it was told: what is derived was made anew, and the pages of
// that are half-way into the file. SQLite copies them in the order of their numbers
// (https://www.sqlite.org/fileformat2.html#checkpoints), so the file is then the new
// one up to some page and the old one behind it, and only its own log makes it whole.
func TestMendingIsKilledOnceItIsDecided(t *testing.T) {
	c := crashAfter(t, 2000, 6)
	damaged := bytes.Clone(c.log)
	damaged[frameAt(2)+frameHeaderSize+100] ^= 1
	path := c.lay(t, damaged)
	s := openAt(t, path, c.options())
	held := entriesHeld(s)
	old, err := os.ReadFile(path)
	check(t, err)
	check(t, s.Rebuild(t.Context()))
	log, err := os.ReadFile(path + logEnd)
	check(t, err)
	check(t, s.writer.plain("PRAGMA wal_checkpoint(PASSIVE)"))
	file, err := os.ReadFile(path)
	check(t, err)
	told, err := s.Damages(t.Context())
	check(t, err)
	if len(told) != 1 || len(file) <= 3*testPage || bytes.Equal(file[:len(old)], old) {
		t.Fatalf("%d are told of, %d bytes of %d are copied", len(told), len(old), len(file))
	}
	for copied := 0; copied <= len(file)/testPage; copied += 1 + len(file)/testPage/6 {
		half := bytes.Clone(old)
		half = append(half, file[min(len(half), len(file)):]...)
		copy(half, file[:copied*testPage])
		killed := crashed{world: c.world, device: c.device, file: half}.lay(t, log)
		check(t, os.WriteFile(killed+decided(told[0].Whole), damaged, 0o600))
		again, err := Open(t.Context(), killed, c.options())
		if err != nil {
			t.Fatalf("%d pages copied: %v", copied, err)
		}
		if now := entriesHeld(again); now != held {
			t.Errorf("%d pages copied: %d entries of %d", copied, now, held)
		}
		report, err := again.Verify(t.Context(), nil)
		if err != nil || len(report.Faults) > 0 {
			t.Errorf("%d pages copied: %q, %v", copied, report.Faults, err)
		}
		after, err := again.Damages(t.Context())
		check(t, err)
		if len(after) != 1 || after[0].Whole != told[0].Whole {
			t.Errorf("%d pages copied: %+v, want %+v", copied, after, told)
		} else if kept, err := os.ReadFile(after[0].Kept); err != nil || !bytes.Equal(kept, damaged) {
			t.Errorf("%d pages copied: the damaged log isn't kept, %v", copied, err)
		}
		check(t, again.Close())
		if left, err := os.ReadDir(killed[:len(killed)-len("/plumbline.db")]); err != nil || len(left) != 2 {
			t.Errorf("%d pages copied: %s lie there, %v", copied, fmt.Sprint(left), err)
		}
	}
}

package storage

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// crashed is a database as a crash leaves it: the file, and a log of many
// transactions.
type crashed struct {
	world     *mergetest.World
	device    entry.DeviceID // who wrote all that is in the log
	early     int            // entries that are in the file; the others are in the log alone
	file, log []byte
	all       string // what the whole comes to
}

// crash writes a world's entries, each in a transaction of its own, and takes
// both files as they lie there.
func crash(t testing.TB) crashed { return crashAfter(t, 0, 40) }

// crashAfter is crash with so many entries more in the file, and so many
// transactions in the log.
func crashAfter(t testing.TB, early, late int) crashed {
	t.Helper()
	w := soundWorld()
	s := storeOf(t, w)
	a := w.Scout(w.Root, 1)
	for i := range early {
		a.Write(prospect(byte(i)), value(uint32(i), fmt.Sprint("ash ", i, strings.Repeat(" fir", i%50))))
	}
	s.append(t, all(w)...)
	check(t, s.indexKind(context.Background(), 0))
	check(t, s.writer.plain("PRAGMA wal_checkpoint(TRUNCATE)"))
	c := crashed{world: w, early: len(w.Facts), device: a.Device.ID()}
	for i := range late {
		f := a.Write(prospect(byte(i%7)), value(1, fmt.Sprint("elm ", i, strings.Repeat(" oak", i))), refer(2, prospect(byte(i))))
		s.append(t, runs(w, []*mergetest.Fact{f}, always)...)
	}
	var err error
	c.file, err = os.ReadFile(s.path)
	check(t, err)
	c.log, err = os.ReadFile(s.path + logEnd)
	check(t, err)
	c.all = dumpOf(w.Read(w.Facts...))
	return c
}

// lay puts both files into a folder, with this log.
func (c crashed) lay(t testing.TB, log []byte) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "plumbline.db")
	check(t, os.WriteFile(path, c.file, 0o600))
	check(t, os.WriteFile(path+logEnd, log, 0o600))
	return path
}

func (c crashed) options() Options {
	return Options{Staff: c.world.Staff, Projector: projector{}, Device: c.device}
}

const testPage = 4096

// frameAt is where a frame begins, counted from 1.
func frameAt(n int) int { return logHeaderSize + (n-1)*(frameHeaderSize+testPage) }

// frames is how many frames SQLite takes of the log beside a database, by its own
// word: the second column that a checkpoint answers with,
// https://www.sqlite.org/pragma.html#pragma_wal_checkpoint.
func frames(t testing.TB, path string) (n int) {
	t.Helper()
	c, err := openConnection(context.Background(), path, []string{"journal_mode(WAL)"}, false)
	check(t, err)
	defer c.close()
	var busy, done int
	_, err = querier(c.query).one("PRAGMA wal_checkpoint(PASSIVE)", nil, &busy, &n, &done)
	check(t, err)
	return max(n, 0)
}

// flips are the places at which a bit of a log can turn.
func flips(log []byte) map[string]int {
	last := (len(log) - logHeaderSize) / (frameHeaderSize + testPage)
	at := map[string]int{
		"the magic number": 3, "the magic number's first byte": 0, "the version": 6, "the size of pages": 10,
		"the count of checkpoints": 13, "the header's salt": 17, "the header's checksum": 29,
	}
	for name, n := range map[string]int{"first": 1, "second": 2, "middle": last / 2, "last but one": last - 1, "last": last} {
		f := frameAt(n)
		at[name+" frame's page number"] = f + 3
		at[name+" frame's size"] = f + 7
		at[name+" frame's salt"] = f + 9
		at[name+" frame's checksum"] = f + 20
		at[name+" frame's page"] = f + frameHeaderSize + 5
		at[name+" frame's middle"] = f + frameHeaderSize + testPage/2
		at[name+" frame's end"] = f + frameHeaderSize + testPage - 3
	}
	return at
}

// TestALogIsReadAsSQLiteReadsIt holds the number of frames that are taken against
// SQLite's own, with a bit turned at each kind of place and cut anywhere.
func TestALogIsReadAsSQLiteReadsIt(t *testing.T) {
	c := crash(t)
	logs := map[string][]byte{"whole": c.log, "none": nil}
	for what, at := range flips(c.log) {
		logs[what] = bytes.Clone(c.log)
		logs[what][at] ^= 4
	}
	for cut := 0; cut < len(c.log); cut += 29989 {
		logs[fmt.Sprint("cut at ", cut)] = c.log[:cut]
	}
	for what, log := range logs {
		l, err := scanLog(bytes.NewReader(log), testPage)
		if want := frames(t, c.lay(t, log)); err != nil || l.taken != want {
			t.Errorf("%s: %d frames, %v, SQLite takes %d", what, l.taken, err, want)
		}
	}
}

// TestALogCutShortIsNoDamage cuts a crashed log anywhere, as a loss of power does,
// also with space behind it that was reserved or written for nothing.
func TestALogCutShortIsNoDamage(t *testing.T) {
	c := crash(t)
	for cut := 0; cut <= len(c.log); cut += 60013 {
		for name, tail := range map[string][]byte{"": nil, " and zeros": make([]byte, 9000), " and noise": bytes.Repeat([]byte{0xa5, 0x13}, 5000)} {
			path := c.lay(t, append(bytes.Clone(c.log[:cut]), tail...))
			s := openAt(t, path, c.options())
			if told, err := s.Damages(t.Context()); err != nil || len(told) > 0 {
				t.Errorf("cut at %d%s: %+v, %v", cut, name, told, err)
			}
			check(t, s.Close())
			if left, err := filepath.Glob(path + "?*"); err != nil || len(left) > 0 {
				t.Errorf("cut at %d%s: %q lie beside the database, %v", cut, name, left, err)
			}
		}
	}
}

// TestADamagedLogIsToldOf turns one bit of a crashed log at each kind of place.
// What isn't there any more is told of and comes back from elsewhere; what the
// ledger's hashes vouch for is never given up.
func TestADamagedLogIsToldOf(t *testing.T) {
	c := crash(t)
	whole := 0
	for what, at := range flips(c.log) {
		log := bytes.Clone(c.log)
		log[at] ^= 4
		state, err := scanLog(bytes.NewReader(log), testPage)
		check(t, err)
		path := c.lay(t, log)
		s := openAt(t, path, c.options())
		told, err := s.Damages(t.Context())
		check(t, err)
		held := entriesHeld(s)
		if state.damaged() {
			if len(told) != 1 {
				t.Fatalf("%s: %d are told of", what, len(told))
			}
			if d := told[0]; d.Whole != (held == len(c.world.Facts)) || !d.Whole && d.After == 0 {
				t.Errorf("%s: %+v with %d of %d entries", what, d, held, len(c.world.Facts))
			}
			if kept, err := os.ReadFile(told[0].Kept); err != nil || !bytes.Equal(kept, log) {
				t.Errorf("%s: the damaged log isn't kept, %v", what, err)
			}
			if told[0].Whole {
				whole++
			}
		} else if len(told) > 0 || !strings.HasPrefix(what, "last") {
			t.Errorf("%s: taken for a log that was cut short, %+v", what, told)
		}
		if held < c.early {
			t.Errorf("%s: %d entries of the file's %d", what, held, c.early)
		}
		report, err := s.Verify(t.Context(), nil)
		if err != nil || len(report.Faults) > 0 {
			t.Errorf("%s: %q, %v", what, report.Faults, err)
		}
		check(t, s.Close())
		s = openAt(t, path, c.options()) // nothing is looked at twice, or forgotten
		if again, err := s.Damages(t.Context()); err != nil || fmt.Sprint(again) != fmt.Sprint(told) {
			t.Errorf("%s: afterwards %+v, %v", what, again, err)
		}
		check(t, s.ForgetDamages(t.Context()))
		s.append(t, all(c.world)...) // from the other laptops
		same(t, what, s.dump(t), c.all)
		if again, err := s.Damages(t.Context()); err != nil || len(again) > 0 {
			t.Errorf("%s: told again: %+v, %v", what, again, err)
		}
		check(t, s.Close())
	}
	t.Logf("of %d damaged logs %d could be mended whole", len(flips(c.log)), whole)
}

// TestADamagedLogOfWhatIsInTheFile damages a log whose pages were copied into the
// file before the crash: the front of the log would lay old pages over newer ones.
func TestADamagedLogOfWhatIsInTheFile(t *testing.T) {
	c := crash(t)
	at := c.lay(t, c.log)
	if n := frames(t, at); n == 0 {
		t.Fatal("nothing was copied")
	}
	var err error
	c.file, err = os.ReadFile(at)
	check(t, err)
	for frame := 3; frame < 60; frame += 9 {
		log := bytes.Clone(c.log)
		for i := frameAt(frame); i < frameAt(frame+1); i++ {
			log[i] ^= 0x5a
		}
		s := openAt(t, c.lay(t, log), c.options())
		if held := entriesHeld(s); held != len(c.world.Facts) {
			t.Errorf("frame %d: %d entries of %d", frame, held, len(c.world.Facts))
		}
		same(t, "", s.dump(t), c.all)
		check(t, s.Close())
	}
}

// TestMendingStopsHalfWay finds a log whose mending was cut off: it begins anew.
// Who only reads leaves all as it is and refuses.
func TestMendingStopsHalfWay(t *testing.T) {
	c := crash(t)
	log := bytes.Clone(c.log)
	log[frameAt(2)+frameHeaderSize+100] ^= 1
	path := c.lay(t, log)
	check(t, os.Rename(path+logEnd, path+mending))
	check(t, os.WriteFile(path+logEnd, c.log[:frameAt(20)], 0o600))
	for _, lies := range []string{mending, logEnd} {
		reading := c.options()
		reading.ReadOnly = true
		if _, err := Open(t.Context(), path, reading); !errors.Is(err, ErrCorrupt) {
			t.Errorf("read with %s beside it: %v", lies, err)
		}
		if now, err := os.ReadFile(path + lies); err != nil || !bytes.Equal(now, log) {
			t.Errorf("%s was changed, %v", lies, err)
		}
		if lies == mending {
			check(t, os.Rename(path+mending, path+logEnd))
		}
	}
	check(t, os.Rename(path+logEnd, path+mending))
	s := openAt(t, path, c.options())
	if told, err := s.Damages(t.Context()); err != nil || len(told) != 1 {
		t.Errorf("%+v, %v", told, err)
	}
	if _, err := os.Stat(path + mending); err == nil {
		t.Error("mending hasn't ended")
	}
}

// TestDamagedLogsAreBounded damages one log after the other.
func TestDamagedLogsAreBounded(t *testing.T) {
	c := crash(t)
	path := c.lay(t, nil)
	for round := range keptLogs + 3 {
		log := bytes.Clone(c.log)
		log[frameAt(2)+frameHeaderSize+100+round] ^= 1
		check(t, os.WriteFile(path, c.file, 0o600))
		check(t, os.WriteFile(path+logEnd, log, 0o600))
		check(t, openAt(t, path, c.options()).Close())
		if left, err := filepath.Glob(path + kept + "*"); err != nil || len(left) != min(round+1, keptLogs) {
			t.Errorf("%q, %v", left, err)
		}
	}
	if _, err := os.Stat(fmt.Sprint(path, kept, keptLogs+3)); err != nil {
		t.Error(err)
	}
}

// TestALogThatNothingCanBeMadeOf is left as it lies, and so is the database.
func TestALogThatNothingCanBeMadeOf(t *testing.T) {
	c := crash(t)
	for i := testPage; i < len(c.file); i += 64 {
		c.file[i] ^= 0xff
	}
	log := bytes.Clone(c.log)
	log[frameAt(2)+frameHeaderSize+100] ^= 1
	path := c.lay(t, log)
	if _, err := Open(t.Context(), path, c.options()); !errors.Is(err, ErrCorrupt) {
		t.Errorf("opened: %v", err)
	}
	if now, err := os.ReadFile(path + logEnd); err != nil || !bytes.Equal(now, log) {
		t.Errorf("the log was changed, %v", err)
	}
	if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, c.file) {
		t.Errorf("the file was changed, %v", err)
	}
}

// FuzzLog reads any bytes as a log. What it says stays within the file, and the
// log that is made of it holds, by the same rules, up to where it said.
func FuzzLog(f *testing.F) {
	small := bytes.Clone(smallLog())
	f.Add(small, 512)
	for _, at := range []int{2, 18, 28, 35, 50, 700, 1300} {
		turned := bytes.Clone(small)
		turned[at] ^= 8
		f.Add(turned, 512)
	}
	f.Add(small[:1000], 4096)
	f.Fuzz(func(t *testing.T, data []byte, page int) {
		if !isPageSize(page) {
			page = 512
		}
		l, err := scanLog(bytes.NewReader(data), page)
		if err != nil || l.taken > l.reaches || l.reaches > 0 && l.reaches*(frameHeaderSize+l.header.page)+logHeaderSize > len(data) {
			t.Fatalf("%d frames of %d, %v", l.taken, l.reaches, err)
		}
		if l.reaches == 0 {
			return
		}
		var whole, front bytes.Buffer
		check(t, l.mend(&whole, bytes.NewReader(data)))
		check(t, l.prefix(&front, bytes.NewReader(data)))
		if m, err := scanLog(&whole, page); err != nil || m.damaged() || m.taken == 0 {
			t.Errorf("mended: %d frames of %d, %v", m.taken, m.reaches, err)
		}
		if p, err := scanLog(&front, page); err != nil || p.damaged() || p.taken != l.taken {
			t.Errorf("the front: %d frames of %d, want %d, %v", p.taken, p.reaches, l.taken, err)
		}
	})
}

// smallLog has three frames of 512 bytes, of which the second and third commit,
// written by the format's description.
func smallLog() []byte {
	header := make([]byte, 24)
	for i, n := range []uint32{logMagic, logVersion, 512, 0, 0x01020304, 0x05060708} {
		binary.BigEndian.PutUint32(header[4*i:], n)
	}
	sum := logSum{}.add(binary.LittleEndian, header)
	log := append(header, make([]byte, 8)...)
	sum.put(log[24:])
	for n := range 3 {
		f := make(frame, frameHeaderSize+512)
		binary.BigEndian.PutUint32(f, uint32(n+1))
		binary.BigEndian.PutUint32(f[4:], uint32(3*min(n, 1)))
		copy(f[8:], header[16:24])
		for i := range f[frameHeaderSize:] {
			f[frameHeaderSize+i] = byte(i * (n + 1))
		}
		sum = f.after(binary.LittleEndian, sum)
		sum.put(f[16:])
		log = append(log, f...)
	}
	return log
}

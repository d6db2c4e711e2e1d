package storage

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// SQLite's write-ahead log, as far as telling damage from a torn end takes it.
// The format is SQLite's published one: https://www.sqlite.org/fileformat2.html#walformat
// ("The WAL File Format", "Checksum Algorithm") and https://www.sqlite.org/walformat.html.
// All numbers in it are big-endian; only the checksum reads its input in the
// order that the magic number names.
const (
	logHeaderSize   = 32
	frameHeaderSize = 24
	logMagic        = 0x377f0682 // the lowest bit is set where checksums are of big-endian numbers
	logVersion      = 3007000
)

type (
	logSum  [2]uint32
	logSalt [8]byte
)

// add continues a checksum over data of a multiple of eight bytes.
func (s logSum) add(order binary.ByteOrder, data []byte) logSum {
	a, b := s[0], s[1]
	if order == binary.BigEndian {
		for ; len(data) >= 8; data = data[8:] {
			a += binary.BigEndian.Uint32(data) + b
			b += binary.BigEndian.Uint32(data[4:]) + a
		}
		return logSum{a, b}
	}
	for ; len(data) >= 8; data = data[8:] {
		a += binary.LittleEndian.Uint32(data) + b
		b += binary.LittleEndian.Uint32(data[4:]) + a
	}
	return logSum{a, b}
}

func sumAt(data []byte) logSum {
	return logSum{binary.BigEndian.Uint32(data), binary.BigEndian.Uint32(data[4:])}
}

// logHeader is the log's first 32 bytes.
type logHeader struct {
	raw   [logHeaderSize]byte
	order binary.ByteOrder
	page  int
	sum   logSum // of the first 24 bytes
	sound bool
	// noted is the sum that stands in it, which is another one only where the
	// header is damaged.
	noted logSum
}

// readLogHeader takes page for the size of pages where the header is damaged.
// Checksums are then those of the machines that this program runs on.
func readLogHeader(r io.Reader, page int) (h logHeader, err error) {
	if _, err := io.ReadFull(r, h.raw[:]); err != nil {
		return h, err
	}
	magic := binary.BigEndian.Uint32(h.raw[:])
	h.order, h.page = binary.LittleEndian, int(binary.BigEndian.Uint32(h.raw[8:]))
	if magic == logMagic|1 {
		h.order = binary.BigEndian
	}
	h.sum, h.noted = logSum{}.add(h.order, h.raw[:24]), sumAt(h.raw[24:])
	h.sound = magic&^1 == logMagic && binary.BigEndian.Uint32(h.raw[4:]) == logVersion && isPageSize(h.page) && h.noted == h.sum
	if !h.sound {
		h.order, h.page = binary.LittleEndian, page
		h.sum = logSum{}.add(h.order, h.raw[:24])
	}
	return h, nil
}

func isPageSize(n int) bool { return n >= 512 && n <= 65536 && n&(n-1) == 0 }

// frame is one page as a transaction left it, with what stands before it.
type frame []byte

func (f frame) number() uint32 { return binary.BigEndian.Uint32(f) }
func (f frame) commits() bool  { return binary.BigEndian.Uint32(f[4:]) != 0 }
func (f frame) salt() logSalt  { return logSalt(f[8:16]) }
func (f frame) sum() logSum    { return sumAt(f[16:]) }

// after is the frame's checksum if the one before it has this one.
func (f frame) after(order binary.ByteOrder, sum logSum) logSum {
	return sum.add(order, f[:8]).add(order, f[frameHeaderSize:])
}

// logState says how much of a log holds.
type logState struct {
	header logHeader
	salt   logSalt
	// taken is how many frames SQLite takes: those up to the last commit before
	// the first frame that doesn't hold.
	taken int
	// reaches is how many frames there are up to the last commit that holds,
	// behind others that don't. It is taken where nothing is damaged: what was cut
	// off in the middle of a transaction has no commit behind it.
	reaches int
}

func (l logState) damaged() bool { return l.reaches > l.taken }

// scanLog reads a log once. Behind a frame that doesn't hold, the next ones are
// checked by the checksum that stands in the frame before each: a log grows from
// its beginning, and a transaction begins when the one before it is on disk.
func scanLog(r io.Reader, page int) (l logState, err error) {
	in := bufio.NewReaderSize(r, 1<<16)
	if l.header, err = readLogHeader(in, page); err != nil {
		return logState{}, ended(err)
	}
	h := l.header
	f := make(frame, frameHeaderSize+h.page)
	sum, whole, salted := h.noted, h.sound, h.sound
	l.salt = logSalt(h.raw[16:24])
	for n := 1; ; n++ {
		if _, err := io.ReadFull(in, f); err != nil {
			return l, ended(err)
		}
		holds := f.number() != 0 && (!salted || f.salt() == l.salt) &&
			(f.after(h.order, sum) == f.sum() || n == 1 && f.after(h.order, h.sum) == f.sum())
		if holds && !salted {
			l.salt, salted = f.salt(), true
		}
		whole = whole && holds
		if holds && f.commits() {
			l.reaches = n
			if whole {
				l.taken = n
			}
		}
		sum = f.sum()
	}
}

// ended is nil for an error that says that the file ends, wherever in a frame.
func ended(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil
	}
	return err
}

// unwritten reports whether a frame isn't of this log: zeros that were written
// ahead, or what an earlier round left there, whose page must not come back. Both
// halves of the salt change with each round; damage seldom turns both.
func (l logState) unwritten(f frame) bool {
	salt := f.salt()
	return f.number() == 0 || !bytes.Equal(salt[:4], l.salt[:4]) && !bytes.Equal(salt[4:], l.salt[4:])
}

// mend writes the log that there was: all its frames as they are, damaged ones too,
// with salts and checksums that SQLite takes. Whether the pages hold is for the
// ledger's own hashes to say.
func (l logState) mend(w io.Writer, r io.Reader) error {
	h := l.header
	if _, err := io.CopyN(io.Discard, r, logHeaderSize); err != nil {
		return fmt.Errorf("read the log: %w", err)
	}
	raw := h.raw
	if !h.sound {
		binary.BigEndian.PutUint32(raw[:], logMagic)
		binary.BigEndian.PutUint32(raw[4:], logVersion)
		binary.BigEndian.PutUint32(raw[8:], uint32(h.page))
		copy(raw[16:], l.salt[:])
	}
	sum := logSum{}.add(h.order, raw[:24])
	sum.put(raw[24:])
	if _, err := w.Write(raw[:]); err != nil {
		return err
	}
	f := make(frame, frameHeaderSize+h.page)
	for range l.reaches {
		if _, err := io.ReadFull(r, f); err != nil {
			return fmt.Errorf("read the log: %w", err)
		}
		if l.unwritten(f) {
			continue // of number 0, SQLite takes none behind it
		}
		copy(f[8:], l.salt[:])
		sum = f.after(h.order, sum)
		sum.put(f[16:])
		if _, err := w.Write(f); err != nil {
			return err
		}
	}
	return nil
}

func (s logSum) put(into []byte) {
	binary.BigEndian.PutUint32(into, s[0])
	binary.BigEndian.PutUint32(into[4:], s[1])
}

// prefix writes what SQLite takes by itself.
func (l logState) prefix(w io.Writer, r io.Reader) error {
	if l.taken == 0 {
		return nil
	}
	_, err := io.CopyN(w, r, logHeaderSize+int64(l.taken)*int64(frameHeaderSize+l.header.page))
	return err
}

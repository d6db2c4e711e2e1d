package node

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/wire"
)

// Reading says up to where somebody has read, so that what they do then covers
// that and nothing that came in since. Clients get it as an opaque text with
// what they show, and send it back with what the person does. It names entries,
// nothing of this process or database, so it holds after a restart.
type Reading struct {
	// Records are those that were read, with all that refers to them; none for a
	// list of what is set aside.
	Records []entry.RecordID
	// Read is how far: as a retirement of these records carries it, or the last
	// listed entry of each branch.
	Read entry.Retirement
}

// Evidence is what a reading is taken from and held against: the storage.
type Evidence interface {
	Heads(ctx context.Context, ids ...entry.RecordID) (entry.Retirement, error)
	Locate(ctx context.Context, id entry.ID) (merge.Place, bool, error)
	// Unread reads what counts on records and what refers to them, and wasn't read.
	Unread(ctx context.Context, read entry.Retirement, ids ...entry.RecordID) ([]storage.HistoryEntry, error)
	Branches() []storage.BranchInfo
}

// ReadNow is the reading of who reads all that is held of the records.
func ReadNow(ctx context.Context, held Evidence, ids ...entry.RecordID) (Reading, error) {
	heads, err := held.Heads(ctx, ids...)
	return Reading{Records: ids, Read: heads}, err
}

// Retirement is the entry by which who has read so far hides a record.
func (r Reading) Retirement(ctx context.Context, held Evidence, id entry.RecordID) (Draft, error) {
	if err := r.holds(ctx, held); err != nil {
		return Draft{}, err
	}
	read := r.Read
	return Draft{Record: id, Body: entry.Body{Kind: entry.KindRetirement, Retirement: &read}}, nil
}

// Keep is the entry by which who has read so far answers the retirements of a
// record. It beats those that came in since too, so [Reading.RetiredSince] has to
// find none inside the step that saves it.
func (r Reading) Keep(ctx context.Context, held Evidence, id entry.RecordID) (Draft, error) {
	return Draft{Record: id, Body: entry.Body{Kind: entry.KindKeep}}, r.holds(ctx, held)
}

// RetiredSince reads the retirements of a record that weren't read.
func (r Reading) RetiredSince(ctx context.Context, held Evidence, id entry.RecordID) ([]storage.HistoryEntry, error) {
	entries, err := held.Unread(ctx, r.Read, id)
	return slices.DeleteFunc(entries, func(e storage.HistoryEntry) bool {
		return e.Body.Kind != entry.KindRetirement || e.Header.Record != id
	}), err
}

// holds refuses a reading of entries that aren't held here: it comes from
// another laptop, or this one was restored since.
func (r Reading) holds(ctx context.Context, held Evidence) error {
	for _, head := range r.Read.Heads {
		_, ok, err := held.Locate(ctx, head)
		if err != nil {
			return err
		}
		if !ok {
			return refuse(ErrInvalid, "as_of names entries that this laptop doesn't hold: read again, and pass the as_of of that answer")
		}
	}
	return nil
}

const (
	readingVersion  = 1
	readingChecksum = 4
	// maxReading bounds the text of a reading, in bytes: no retirement has room for
	// more than 64 KiB, which take a third more as text.
	maxReading = 88 << 10
)

// String is the reading as clients carry it: the same for the same reading.
func (r Reading) String() string {
	out := append(make([]byte, 0, 256), readingVersion)
	out = binary.AppendUvarint(out, uint64(len(r.Records)))
	for _, id := range slices.Sorted(slices.Values(r.Records)) {
		out = wire.AppendBytes(out, id)
	}
	for _, ids := range [][]entry.ID{r.Read.Heads, r.Read.SetAside} {
		out = entry.AppendIDs(out, slices.SortedFunc(slices.Values(ids), entry.ID.Compare))
	}
	return base64.RawURLEncoding.EncodeToString(append(out, checksum(out)...))
}

func checksum(data []byte) []byte {
	sum := sha256.Sum256(data)
	return sum[:readingChecksum]
}

// ParseReading reads what a client sends back.
func ParseReading(text string) (Reading, error) {
	if len(text) > maxReading {
		return Reading{}, refuse(ErrInvalid, "as_of has %d bytes, more than the %d that an answer gives: pass it as the answer gave it", len(text), maxReading)
	}
	data, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(data) <= readingChecksum {
		return Reading{}, refuse(ErrInvalid, "as_of is none that an answer gave: pass it whole and unchanged")
	}
	data, sum := data[:len(data)-readingChecksum], data[len(data)-readingChecksum:]
	if !bytes.Equal(sum, checksum(data)) {
		return Reading{}, refuse(ErrInvalid, "as_of was cut off or changed on its way: pass it whole and unchanged")
	}
	d := wire.Decoder{Rest: data}
	if d.Byte() != readingVersion {
		return Reading{}, refuse(ErrInvalid, "as_of is from another version of this program: read again, and pass the as_of of that answer")
	}
	var r Reading
	for range d.Count() {
		r.Records = append(r.Records, entry.RecordID(d.Text()))
	}
	r.Read = entry.Retirement{Heads: entry.DecodeIDs(&d), SetAside: entry.DecodeIDs(&d)}
	if err := d.Done(); err != nil {
		return Reading{}, refuse(ErrInvalid, "as_of is none that an answer gave (%v): read again, and pass the as_of of that answer", err)
	}
	return r, nil
}

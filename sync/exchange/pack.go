package exchange

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"sync"

	"github.com/klauspost/compress/zstd"

	"plumbline/sync/entry"
	"plumbline/sync/wire"
)

// maxPlain bounds a chunk before it is packed: its entries, their lengths and
// the signed points. The unpacking side allocates no more than this.
const maxPlain = MaxChunk + MaxChunk/4

// pointStride is how many bytes of entries lie at most between two signed
// points that travel, unless their author left more. All of them would cost a
// check each, where one vouches for everything before it.
const pointStride = 64 << 10

// The compressor and its counterpart are shared by all sessions: each holds
// buffers, and a laptop may be linked to a whole staff. Fastest, since a
// stronger level costs more time than the bytes do on a local network; no
// checksum, since every entry is held against its hash.
var (
	packer = sync.OnceValue(func() *zstd.Encoder {
		e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1),
			zstd.WithEncoderCRC(false), zstd.WithWindowSize(1<<19))
		if err != nil {
			panic("exchange: the compressor's options: " + err.Error())
		}
		return e
	})
	unpacker = sync.OnceValue(func() *zstd.Decoder {
		d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxPlain),
			zstd.WithDecoderLowmem(true))
		if err != nil {
			panic("exchange: the decompressor's options: " + err.Error())
		}
		return d
	})
)

// pack writes entries and signed points for the way. A header ends in its
// body's digest, which no compressor can shorten; the receiver hashes the
// body anyway, so the digest stays at home unless the body is gone.
func pack(after entry.Point, raws []entry.Raw, points []entry.SignedPoint) []byte {
	plain := make([]byte, 0, maxPlain/4)
	plain = binary.AppendUvarint(plain, uint64(len(raws)))
	for _, raw := range raws {
		header, whole := raw.Header, uint64(1)
		digest := sha256.Sum256(raw.Body)
		if short, ok := bytes.CutSuffix(header, digest[:]); ok {
			header, whole = short, 0
		}
		plain = binary.AppendUvarint(plain, uint64(len(header))<<1|whole)
		plain = append(plain, header...)
		plain = binary.AppendUvarint(plain, uint64(len(raw.Body)))
		plain = append(plain, raw.Body...)
	}
	points = thin(after, raws, points)
	plain = binary.AppendUvarint(plain, uint64(len(points)))
	for _, p := range points {
		plain = binary.AppendUvarint(plain, p.Seq-after.Seq)
		plain = append(plain, p.Hash[:]...)
		plain = append(plain, p.Signature...)
	}
	return packer().EncodeAll(plain, nil)
}

// thin leaves out points that lie closer together than a stride, never the
// last one.
func thin(after entry.Point, raws []entry.Raw, points []entry.SignedPoint) []entry.SignedPoint {
	var kept []entry.SignedPoint
	since, next := 0, 0
	for i, p := range points {
		for ; next < len(raws) && after.Seq+uint64(next) < p.Seq; next++ {
			since += raws[next].Size()
		}
		if i == len(points)-1 || since+stretch(after, raws, next, points[i+1]) > pointStride {
			kept, since = append(kept, p), 0
		}
	}
	return kept
}

// stretch is how many bytes lie between entry number from and the point.
func stretch(after entry.Point, raws []entry.Raw, from int, to entry.SignedPoint) (size int) {
	for i := from; i < len(raws) && after.Seq+uint64(i) < to.Seq; i++ {
		size += raws[i].Size()
	}
	return size
}

// unpack reads what pack wrote. The entries share memory with each other.
func unpack(after entry.Point, packed []byte) ([]entry.Raw, []entry.SignedPoint, error) {
	plain, err := unpacker().DecodeAll(packed, nil)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: chunk: %w", ErrMalformed, err)
	}
	d := wire.Decoder{Rest: plain}
	raws := unpackEntries(&d)
	var points []entry.SignedPoint
	for range d.Count() {
		var p entry.SignedPoint
		p.Seq = after.Seq + d.Uvarint()
		p.Hash = d.Array32()
		if p.Signature = d.Take(ed25519.SignatureSize); d.Err != nil {
			break
		}
		points = append(points, p)
	}
	if err := d.Done(); err != nil {
		return nil, nil, fmt.Errorf("%w: chunk: %w", ErrMalformed, err)
	}
	return raws, points, nil
}

func unpackEntries(d *wire.Decoder) []entry.Raw {
	n := d.Count()
	if n > MaxChunk/sha256.Size {
		d.Fail(fmt.Errorf("%d entries are too many for a chunk", n))
		return nil
	}
	raws := make([]entry.Raw, 0, n)
	// Rebuilt headers stand one behind the other in one piece of memory.
	headers := make([]byte, 0, len(d.Rest)/4)
	size := 0
	for range n {
		tag := d.Uvarint()
		header := d.Take(tag >> 1)
		raw := entry.Raw{Header: header, Body: d.Bytes()}
		if tag&1 == 0 {
			digest := sha256.Sum256(raw.Body)
			start := len(headers)
			headers = append(append(headers, header...), digest[:]...)
			raw.Header = headers[start:len(headers):len(headers)]
		}
		if size += raw.Size(); size > MaxChunk {
			d.Fail(errors.New("more entries than a chunk may hold"))
		}
		if d.Err != nil {
			return nil
		}
		raws = append(raws, raw)
	}
	return raws
}

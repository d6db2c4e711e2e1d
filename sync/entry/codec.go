package entry

import (
	"encoding/binary"

	"plumbline/sync/wire"
)

// decoder adds to the plain decoder what the format of entries is made of.
type decoder struct{ wire.Decoder }

func decode(data []byte) decoder { return decoder{wire.Decoder{Rest: data}} }

func (d *decoder) id() ID {
	return ID{Log: d.Array16(), Seq: d.Uvarint(), Hash: d.Array16()}
}

func (d *decoder) ids() []ID {
	n := d.Count()
	if n == 0 {
		return nil
	}
	ids := make([]ID, 0, n/idSize)
	for range n {
		ids = append(ids, d.id())
	}
	return ids
}

// idSize is the least that an ID takes on the wire, in bytes.
const idSize = 33

// DecodeIDs reads what [AppendIDs] wrote.
func DecodeIDs(d *wire.Decoder) []ID {
	inner := decoder{*d}
	ids := inner.ids()
	*d = inner.Decoder
	return ids
}

// AppendID writes an ID.
func AppendID(b []byte, id ID) []byte {
	b = append(b, id.Log[:]...)
	b = binary.AppendUvarint(b, id.Seq)
	return append(b, id.Hash[:]...)
}

// AppendIDs writes a count and that many IDs.
func AppendIDs(b []byte, ids []ID) []byte {
	b = binary.AppendUvarint(b, uint64(len(ids)))
	for _, id := range ids {
		b = AppendID(b, id)
	}
	return b
}

// DecodeID reads what [AppendID] wrote.
func DecodeID(d *wire.Decoder) ID {
	inner := decoder{*d}
	id := inner.id()
	*d = inner.Decoder
	return id
}

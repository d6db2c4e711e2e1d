package mesh

import (
	"encoding/binary"
	"fmt"
	"io"
)

// writeFrame sends data with its length in front, in one write, so that it
// costs one TLS record.
func writeFrame(w io.Writer, data []byte) error {
	_, err := w.Write(appendFrame(nil, data))
	return err
}

func appendFrame(b, data []byte) []byte {
	return append(binary.BigEndian.AppendUint32(b, uint32(len(data))), data...)
}

// readFrame reads what writeFrame sent. It allocates as bytes arrive, not what
// the other side announces.
func readFrame(r io.Reader, most int) ([]byte, error) {
	var head [4]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return nil, err
	}
	n := int64(binary.BigEndian.Uint32(head[:]))
	if n > int64(most) {
		return nil, fmt.Errorf("%w: a frame of %d bytes, at most %d", ErrFrame, n, most)
	}
	data, err := io.ReadAll(io.LimitReader(r, n))
	if err == nil && int64(len(data)) < n {
		err = io.ErrUnexpectedEOF
	}
	return data, err
}

func readByte(r io.Reader) (byte, error) {
	var b [1]byte
	_, err := io.ReadFull(r, b[:])
	return b[0], err
}

package exchange

import "plumbline/sync/entry"

// Tests play a peer that says what no laptop should, and listen in.

type (
	Have    = have
	Want    = want
	Chunk   = chunk
	Decline = decline
)

func Decode(message []byte) (any, error) { return decode(message) }

func (m have) Encoded() []byte    { return m.encode() }
func (m want) Encoded() []byte    { return m.encode() }
func (m chunk) Encoded() []byte   { return m.encode() }
func (m decline) Encoded() []byte { return m.encode() }

func (m have) Tips() []Tip               { return m.tips }
func (m decline) Tips() []Tip            { return m.tips }
func (m want) Log() entry.LogID          { return m.log }
func (m want) Target() entry.Point       { return m.target }
func (m want) Number() uint64            { return m.number }
func (m want) Held() []entry.Point       { return m.held }
func (m chunk) Log() entry.LogID         { return m.log }
func (m chunk) Number() uint64           { return m.number }
func (m chunk) Ends() (a, u entry.Point) { return m.after, m.upto }

// Carries reports whether there are entries in it.
func (m chunk) Carries() bool { return m.after != m.upto }

func HaveMessage(controlListed, allListed bool, tips ...Tip) []byte {
	return have{controlListed, allListed, tips}.encode()
}

func WantMessage(number uint64, log entry.LogID, target entry.Point, held ...entry.Point) []byte {
	return want{number, log, target, held}.encode()
}

func ChunkMessage(number uint64, log entry.LogID, after, upto entry.Point, packed []byte) []byte {
	return chunk{number: number, log: log, after: after, upto: upto, packed: packed}.encode()
}

func Pack(after entry.Point, raws []entry.Raw, points []entry.SignedPoint) []byte {
	return pack(after, raws, points)
}

func Unpack(after entry.Point, packed []byte) ([]entry.Raw, []entry.SignedPoint, error) {
	return unpack(after, packed)
}

// Compress packs any bytes as a chunk's entries would be.
func Compress(plain []byte) []byte { return packer().EncodeAll(plain, nil) }

// Remembered is how many logs are kept in mind beyond all links.
func (c *Claims) Remembered() int { return len(c.logs) + len(c.received) }

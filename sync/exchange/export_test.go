package exchange

// Decode shows tests what a message says.
func Decode(message []byte) (any, error) { return decode(message) }

type (
	Have    = have
	Want    = want
	Chunk   = chunk
	Decline = decline
)

// The parts of a have that tests look at.
func (m have) Tips() []Tip { return m.tips }

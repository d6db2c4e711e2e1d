package entry

// Raw is an entry as its author made it: the bytes that are kept, hashed and
// forwarded.
type Raw struct {
	Header []byte
	Body   []byte
}

// Size is what the entry counts towards limits, in bytes.
func (r Raw) Size() int { return len(r.Header) + len(r.Body) }

// Entry is an entry at its place in a log, with its header read.
type Entry struct {
	Raw
	Point
	Header Header
}

// Run is a piece of one log: entries that follow a known point, and signed
// points among them. The last entry has one, else nothing vouches for it.
type Run struct {
	Log LogID
	// After is where the run attaches; Seq 0 and [Origin] for a whole log.
	After Point
	// Lamport is the Lamport time of the entry at After, 0 for a whole log.
	Lamport uint64
	Entries []Entry
	Points  []SignedPoint
}

// Tip returns the last point of the run.
func (r Run) Tip() Point {
	if n := len(r.Entries); n > 0 {
		return r.Entries[n-1].Point
	}
	return r.After
}

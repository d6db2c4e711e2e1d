package storage

import "plumbline/sync/entry"

// warm are the records of the last transaction as they are stored: who saves one
// rep after the other changes, or reaches, the same few each time. It belongs to
// whoever writes. Whoever takes records from it may change them, so it is given up
// with each transaction and made anew by the commit.
type warm map[entry.RecordID]*folding

// warmAtMost bounds what is kept. A larger transaction leaves nothing: what comes
// next is unlikely to need just these.
const warmAtMost = 64

// takeWarm gives the warm records to one transaction.
func (s *Store) takeWarm() warm {
	taken := s.warm
	s.warm = nil
	return taken
}

// stored returns a committed draft's records. After a new verdict a record may come
// to something else when it is read again.
func (d *draft) stored() warm {
	if d.judged || len(d.order) > warmAtMost {
		return nil
	}
	kept := warm{}
	for _, f := range d.order {
		if f.folded && !f.dirty {
			kept[f.id] = f
		}
	}
	return kept
}

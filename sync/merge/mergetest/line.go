package mergetest

import (
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Line is the end of a log that is being written on.
type Line struct {
	Device Device
	Cert   []byte
	Writer entry.Writer
	At     *Fact // the last entry
	world  *World
}

func (l *Line) add(e entry.Entry, err error) *Fact {
	if err != nil {
		panic(err) // the source of randomness can't fail, and no test writes 64 KiB
	}
	body, err := entry.DecodeBody(e.Body)
	if err != nil {
		panic(err)
	}
	f := &Fact{Entry: e, ID: e.ID(l.Writer.Log), Says: body, By: l.Device, Prev: l.At}
	f.First = f
	if l.At != nil {
		f.First = l.At.First
	}
	l.At = f
	l.world.Facts = append(l.world.Facts, f)
	l.world.lamport = max(l.world.lamport, e.Header.Lamport)
	return f
}

// Fork returns a second end of the log that leaves it after the fact, as a
// cloned disk makes it.
func (l *Line) Fork(after *Fact) *Line {
	other := *l
	other.At = after
	other.Writer.Tip, other.Writer.Lamport = after.Point, after.Header.Lamport
	return &other
}

// Put appends an entry as written on a laptop that holds everything so far.
func (l *Line) Put(record entry.RecordID, body entry.Body) *Fact {
	return l.PutHolding(record, body, l.world.lamport)
}

// PutHolding appends an entry as written on a laptop that holds nothing above
// that Lamport time.
func (l *Line) PutHolding(record entry.RecordID, body entry.Body, held uint64) *Fact {
	return l.add(l.Writer.Append(record, body, held, l.world.wall()))
}

// Write changes registers of a record.
func (l *Line) Write(record entry.RecordID, changes ...entry.Change) *Fact {
	return l.Put(record, entry.Body{Kind: entry.KindChanges, Changes: changes})
}

// Same writes whether two records are one.
func (l *Line) Same(verdict []byte, a, b entry.RecordID, replaces ...*Fact) *Fact {
	return l.Write(entry.SameAsID(a, b), sameChanges(verdict, a, b, replaces)...)
}

func sameChanges(verdict []byte, a, b entry.RecordID, replaces []*Fact) []entry.Change {
	said := Value(merge.SameVerdict, string(verdict), replaces...)
	return []entry.Change{said, Refer(merge.SameFirst, a), Refer(merge.SameSecond, b)}
}

// Retire retires a record as read up to the heads.
func (l *Line) Retire(record entry.RecordID, heads ...*Fact) *Fact {
	return l.Put(record, entry.Body{Kind: entry.KindRetirement, Retirement: &entry.Retirement{Heads: IDs(heads)}})
}

// Keep speaks against retirements of a record.
func (l *Line) Keep(record entry.RecordID) *Fact {
	return l.Put(record, entry.Body{Kind: entry.KindKeep})
}

// Grant admits the holder of a certificate.
func (l *Line) Grant(cert []byte, readmits ...*Fact) *Fact {
	return l.Put("", entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: cert, Readmits: IDs(readmits)}})
}

// Cut accepts a device's logs up to the heads.
func (l *Line) Cut(d Device, beyond entry.Beyond, heads []*Fact, replaces ...*Fact) *Fact {
	return l.Put("", entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{
		Device: d.ID(), Beyond: beyond, Heads: IDs(heads), Replaces: IDs(replaces),
	}})
}

// Erase orders contents to be erased.
func (l *Line) Erase(e entry.Erasure) *Fact {
	return l.Put("", entry.Body{Kind: entry.KindErasure, Erasure: &e})
}

// LinkKey makes a link key known whose author has seen the facts.
func (l *Line) LinkKey(seen ...*Fact) *Fact {
	return l.Put("", entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Seen: IDs(seen)}})
}

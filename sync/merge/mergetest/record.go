package mergetest

import "plumbline/sync/entry"

// Kinds of records. The numbers mean nothing to the ledger.
const (
	KindProspect entry.Kind = 1
	KindLook     entry.Kind = 2
	KindRep      entry.Kind = 3
	KindBoard    entry.Kind = 4
)

// Prospect names a record that everybody may write.
func Prospect(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Shared, KindProspect, entry.PersonID{}, [16]byte{n})
}

// Owned names a record of the person who writes on the line.
func (l *Line) Owned(kind entry.Kind, n byte) entry.RecordID {
	return entry.NewRecordID(entry.Owned, kind, l.Device.Person, [16]byte{n})
}

// Look names a look of the line's person, Rep a rep.
func (l *Line) Look(n byte) entry.RecordID { return l.Owned(KindLook, n) }

// Rep is like Look.
func (l *Line) Rep(n byte) entry.RecordID { return l.Owned(KindRep, n) }

// Board names a record that directors write.
func Board(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Directors, KindBoard, entry.PersonID{}, [16]byte{n})
}

// Reg is a register that isn't part of a map.
func Reg(field uint32) entry.Register { return entry.Register{Field: field} }

// Value sets a register to a text.
func Value(field uint32, text string, replaces ...*Fact) entry.Change {
	return entry.Change{Register: Reg(field), Op: entry.OpValue, Value: []byte(text), Replaces: IDs(replaces)}
}

// Refer makes a register refer to a record.
func Refer(field uint32, to entry.RecordID, replaces ...*Fact) entry.Change {
	return entry.Change{Register: Reg(field), Op: entry.OpReference, Value: []byte(to), Replaces: IDs(replaces)}
}

// Erased names a fact as its eraser does, with what it had replaced.
func Erased(f *Fact) entry.ErasedEntry {
	x := entry.ErasedEntry{ID: f.ID, Record: f.Header.Record}
	for _, c := range f.Says.Changes {
		x.Edges = append(x.Edges, entry.Edge{Register: c.Register, Replaces: c.Replaces})
	}
	return x
}

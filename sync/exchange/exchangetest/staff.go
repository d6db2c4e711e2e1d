// Package exchangetest holds what tests of the exchange share: an invented
// staff that writes logs ([Staff]), laptops that are linked and cut step by
// step ([Network]), and the suite that every implementation of
// exchange.Holdings has to pass ([Conform]).
package exchangetest

import (
	"crypto/ed25519"
	"io"
	"math/rand/v2"

	"plumbline/sync/entry"
)

// Staff is an invented staff: a root, and laptops with certificates that the
// root has granted in its control log. Equal seeds make equal staffs.
type Staff struct {
	ID      entry.StaffID
	Root    ed25519.PrivateKey
	Control *Log
	random  io.Reader
}

// NewStaff founds a staff. Its control log is open and holds no grant yet.
func NewStaff(seed uint64) *Staff {
	var key [32]byte
	for i := range 8 {
		key[i] = byte(seed >> (8 * i))
	}
	s := &Staff{random: rand.NewChaCha8(key)}
	s.Root = s.key()
	s.ID = entry.StaffOf(s.Root.Public().(ed25519.PublicKey))
	s.Control = s.open(s.Root, true, nil)
	return s
}

func (s *Staff) key() ed25519.PrivateKey {
	seed := make([]byte, ed25519.SeedSize)
	s.read(seed)
	return ed25519.NewKeyFromSeed(seed)
}

func (s *Staff) read(b []byte) {
	if _, err := io.ReadFull(s.random, b); err != nil {
		panic("exchangetest: " + err.Error())
	}
}

// Laptop makes a device of a new person, granted in the root's control log.
func (s *Staff) Laptop(role entry.Role) *Laptop {
	l := &Laptop{staff: s, Key: s.key()}
	c := entry.Certificate{Role: role, Device: l.Key.Public().(ed25519.PublicKey)}
	s.read(c.Opaque[:])
	s.read(c.Person[:])
	l.Certificate = c.Encode()
	s.Control.Append("", entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: l.Certificate}})
	return l
}

// Laptop is a device that writes logs.
type Laptop struct {
	Key         ed25519.PrivateKey
	Certificate []byte
	staff       *Staff
}

// Open starts a log of the laptop.
func (l *Laptop) Open(control bool) *Log { return l.staff.open(l.Key, control, l.Certificate) }

func (s *Staff) open(key ed25519.PrivateKey, control bool, certificate []byte) *Log {
	log := &Log{staff: s, Writer: entry.Writer{Staff: s.ID, Key: key, Random: s.random}}
	e, err := log.Open(control, certificate, 0, 0)
	if err != nil {
		panic("exchangetest: " + err.Error())
	}
	log.after = entry.Point{Hash: entry.Origin(s.ID)}
	log.add(e)
	return log
}

// Log is a log as its author writes it. What was written since the last Run
// is in the next one.
type Log struct {
	entry.Writer
	staff   *Staff
	after   entry.Point
	before  uint64 // the Lamport time at after
	entries []entry.Entry
	points  []entry.SignedPoint
	since   int
}

// Append writes one entry.
func (l *Log) Append(record entry.RecordID, body entry.Body) {
	e, err := l.Writer.Append(record, body, l.Lamport, 0)
	if err != nil {
		panic("exchangetest: " + err.Error())
	}
	l.add(e)
}

func (l *Log) add(e entry.Entry) {
	if l.since+e.Size() > entry.PointSpacing {
		last := l.entries[len(l.entries)-1].Point
		l.points = append(l.points, entry.SignPoint(l.Key, l.Staff, l.Log, last))
		l.since = 0
	}
	l.since += e.Size()
	l.entries = append(l.entries, e)
}

// Write writes values of the given size to new shared records.
func (l *Log) Write(entries, size int) *Log {
	for range entries {
		var unique [16]byte
		l.staff.read(unique[:])
		value := make([]byte, size)
		l.staff.read(value[:size/2]) // half of it can be compressed
		record := entry.NewRecordID(entry.Shared, 1, entry.PersonID{}, unique)
		change := entry.Change{Register: entry.Register{Field: 1}, Op: entry.OpValue, Value: value}
		l.Append(record, entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{change}})
	}
	return l
}

// Run returns what was written since the last Run, signed.
func (l *Log) Run() entry.Run {
	run := entry.Run{Log: l.Log, After: l.after, Lamport: l.before, Entries: l.entries}
	if len(l.entries) > 0 {
		run.Points = append(l.points, l.Sign())
	}
	l.after, l.before, l.entries, l.points, l.since = l.Tip, l.Lamport, nil, nil, 0
	return run
}

// Clone returns a second writer of the log, as a cloned disk makes one. What
// wasn't yet taken by Run stays with the first.
func (l *Log) Clone() *Log {
	clone := *l
	clone.after, clone.before, clone.entries, clone.points, clone.since = l.Tip, l.Lamport, nil, nil, 0
	return &clone
}

package storage

import (
	"context"
	"crypto/ed25519"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Everything here is invented: an invented staff writes about invented records.

// world is a staff and everything that it ever wrote, by the real writer.
type world struct {
	random *rand.ChaCha8
	staff  entry.StaffID
	root   *line
	facts  []*fact
}

// fact is one entry, linked to the one before it in its log, with a signature.
type fact struct {
	entry.Entry
	id    entry.ID
	prev  *fact
	first *fact
	body  entry.Body
	point entry.SignedPoint
}

// device is a key pair with the person who holds it.
type device struct {
	key    ed25519.PrivateKey
	person entry.PersonID
}

func (d device) id() entry.DeviceID { return entry.DeviceOf(d.key.Public().(ed25519.PublicKey)) }

// line is the end of a log that is being written on.
type line struct {
	w      *world
	device device
	cert   []byte
	writer entry.Writer
	at     *fact
}

func newWorld(seed uint32) *world {
	w := &world{random: rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8), byte(seed >> 16), byte(seed >> 24)})}
	root := w.newDevice()
	w.staff = entry.StaffOf(root.key.Public().(ed25519.PublicKey))
	w.root = w.open(root, nil, true)
	return w
}

func (w *world) bytes16() (b [16]byte) {
	_, _ = w.random.Read(b[:]) // documented never to fail
	return b
}

func (w *world) newDevice() device {
	var seed [32]byte
	_, _ = w.random.Read(seed[:])
	return device{key: ed25519.NewKeyFromSeed(seed[:]), person: w.bytes16()}
}

// certificate makes a certificate that ranks depth steps below the root.
func (w *world) certificate(d device, role entry.Role, depth int) []byte {
	return entry.Certificate{
		Opaque: w.bytes16(), Person: d.person, Role: role, Device: d.key.Public().(ed25519.PublicKey),
		Path: make([]entry.CertificateID, depth-1),
	}.Encode()
}

func (w *world) open(d device, cert []byte, control bool) *line {
	l := &line{w: w, device: d, cert: cert, writer: entry.Writer{Staff: w.staff, Key: d.key, Random: w.random}}
	e, err := l.writer.Open(control, cert, w.held(), 1)
	l.add(e, err)
	return l
}

func (w *world) held() (lamport uint64) {
	if n := len(w.facts); n > 0 {
		lamport = w.facts[n-1].Header.Lamport
	}
	return lamport
}

func (l *line) add(e entry.Entry, err error) *fact {
	if err != nil {
		panic(err) // the source of randomness can't fail, and no test writes 64 KiB
	}
	body, err := entry.DecodeBody(e.Body)
	if err != nil {
		panic(err)
	}
	f := &fact{Entry: e, id: e.ID(l.writer.Log), prev: l.at, body: body, point: l.writer.Sign()}
	f.first = f
	if l.at != nil {
		f.first = l.at.first
	}
	l.at = f
	l.w.facts = append(l.w.facts, f)
	return f
}

func (l *line) put(record entry.RecordID, body entry.Body) *fact {
	return l.add(l.writer.Append(record, body, l.w.held(), int64(l.w.random.Uint64()>>20)))
}

func (l *line) write(record entry.RecordID, changes ...entry.Change) *fact {
	return l.put(record, entry.Body{Kind: entry.KindChanges, Changes: changes})
}

func (l *line) grant(cert []byte, readmits ...*fact) *fact {
	return l.put("", entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: cert, Readmits: ids(readmits)}})
}

func (l *line) cut(d device, beyond entry.Beyond, heads []*fact, replaces ...*fact) *fact {
	return l.put("", entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{
		Device: d.id(), Beyond: beyond, Heads: ids(heads), Replaces: ids(replaces),
	}})
}

func (l *line) erase(e entry.Erasure) *fact {
	return l.put("", entry.Body{Kind: entry.KindErasure, Erasure: &e})
}

func (l *line) retire(record entry.RecordID, r entry.Retirement) *fact {
	return l.put(record, entry.Body{Kind: entry.KindRetirement, Retirement: &r})
}

// fork returns a second end of the log that leaves it after the fact, as a
// cloned disk makes it.
func (l *line) fork(after *fact) *line {
	other := *l
	other.at = after
	other.writer.Tip, other.writer.Lamport = after.Point, after.Header.Lamport
	return &other
}

// director and scout admit a new person at a depth below the root.
func (w *world) director(by *line, depth int) (control, data *line) {
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleDirector, depth)
	by.grant(cert)
	return w.open(d, cert, true), w.open(d, cert, false)
}

func (w *world) scout(by *line, depth int) *line {
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleScout, depth)
	by.grant(cert)
	return w.open(d, cert, false)
}

func ids(facts []*fact) (list []entry.ID) {
	for _, f := range facts {
		list = append(list, f.id)
	}
	return list
}

func reg(field uint32) entry.Register { return entry.Register{Field: field} }

func value(field uint32, text string, replaces ...*fact) entry.Change {
	return entry.Change{Register: reg(field), Op: entry.OpValue, Value: []byte(text), Replaces: ids(replaces)}
}

func refer(field uint32, to entry.RecordID, replaces ...*fact) entry.Change {
	return entry.Change{Register: reg(field), Op: entry.OpReference, Value: []byte(to), Replaces: ids(replaces)}
}

// The kinds of record mean nothing to the store.
const (
	kindProspect entry.Kind = 1
	kindLook     entry.Kind = 2
	kindRep      entry.Kind = 3
	kindBoard    entry.Kind = 4
)

func prospect(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Shared, kindProspect, entry.PersonID{}, [16]byte{n})
}

func owned(kind entry.Kind, by *line, n byte) entry.RecordID {
	return entry.NewRecordID(entry.Owned, kind, by.device.person, [16]byte{n})
}

func board(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Directors, kindBoard, entry.PersonID{}, [16]byte{n})
}

// runs packs facts, which come in an order of arrival, into runs: what follows
// one another in a log shares one. Only the last entry of a run, and any at
// which keep says so, brings its signature.
func (w *world) runs(facts []*fact, keep func() bool) (runs []entry.Run) {
	var last *fact
	for _, f := range facts {
		n := len(runs) - 1
		if last == nil || f.prev != last {
			run := entry.Run{Log: f.id.Log, After: entry.Point{Hash: entry.Origin(w.staff)}}
			if f.prev != nil {
				run.After, run.Lamport = f.prev.Point, f.prev.Header.Lamport
			}
			runs = append(runs, run)
			n++
		} else if points := runs[n].Points; !keep() {
			runs[n].Points = points[:len(points)-1]
		}
		runs[n].Entries = append(runs[n].Entries, f.Entry)
		runs[n].Points = append(runs[n].Points, f.point)
		last = f
	}
	return runs
}

// all packs everything that was written.
func (w *world) all() []entry.Run { return w.runs(w.facts, func() bool { return true }) }

// since packs what was written after the first n facts.
func (w *world) since(n int) []entry.Run { return w.runs(w.facts[n:], func() bool { return true }) }

// projector indexes every value of field 1 and sums up prospects.
type projector struct{ version int }

func (p projector) Version() int { return p.version }

func (p projector) Words(r *merge.Record) string {
	if reg := r.Find(reg(1)); reg != nil && len(reg.Live) > 0 && reg.Live[0].Op == entry.OpValue {
		return string(reg.Live[0].Data)
	}
	return ""
}

func (p projector) Summarized(kind entry.Kind) bool { return kind == kindProspect }

// openAt opens a store; it is closed with the test, or before.
func openAt(t testing.TB, path string, o Options) *Store {
	t.Helper()
	s, err := Open(context.Background(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func (w *world) store(t testing.TB) *Store {
	return openAt(t, filepath.Join(t.TempDir(), "plumbline.db"), Options{Staff: w.staff, Projector: projector{}})
}

// append stores runs and fails the test if they aren't.
func (s *Store) append(t tester, runs ...entry.Run) Outcome {
	t.Helper()
	o, err := s.Append(context.Background(), runs...)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// before returns the facts but these and those that follow them in their logs.
func before(facts []*fact, gone ...*fact) (rest []*fact) {
	for _, f := range facts {
		at := f
		for at != nil && !slices.Contains(gone, at) {
			at = at.prev
		}
		if at == nil {
			rest = append(rest, f)
		}
	}
	return rest
}

package merge_test

import (
	"crypto/ed25519"
	"math/rand/v2"
	"slices"

	"plumbline/sync/entry"
)

// Everything here is invented: an invented staff writes about invented records.

// A world is a staff and everything that it ever wrote. Its entries are made
// by the real writer, so that ids, chains and bodies are what laptops send.
type world struct {
	random *rand.ChaCha8
	staff  entry.StaffID
	root   *line
	facts  []*fact
}

// A fact is one entry at its place, linked to the one before it in its log.
type fact struct {
	id     entry.ID
	prev   *fact
	first  *fact
	header entry.Header
	body   entry.Body
	tip    entry.Point
}

// A device is a key pair with the person who holds it.
type device struct {
	key    ed25519.PrivateKey
	person entry.PersonID
}

func (d device) id() entry.DeviceID { return entry.DeviceOf(d.key.Public().(ed25519.PublicKey)) }

// A line is the end of a log that is being written on.
type line struct {
	w      *world
	device device
	cert   []byte
	writer entry.Writer
	at     *fact
}

func newWorld(seed uint64) *world {
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

// certificate makes a certificate whose rank is that of depth steps below the
// root.
func (w *world) certificate(d device, role entry.Role, generation uint64, depth int) []byte {
	return entry.Certificate{
		Opaque: w.bytes16(), Person: d.person, Role: role, Device: d.key.Public().(ed25519.PublicKey),
		Generation: generation, Path: make([]entry.CertificateID, depth-1),
	}.Encode()
}

// open starts a log.
func (w *world) open(d device, cert []byte, control bool) *line {
	l := &line{w: w, device: d, cert: cert, writer: entry.Writer{Staff: w.staff, Key: d.key, Random: w.random}}
	e, err := l.writer.Open(control, cert, w.held(), w.wall())
	l.add(e, err)
	return l
}

func (w *world) held() (lamport uint64) {
	for _, f := range w.facts {
		lamport = max(lamport, f.header.Lamport)
	}
	return lamport
}

// wall is what the authors' clocks show: nothing that could order entries.
func (w *world) wall() int64 { return int64(w.random.Uint64() >> 20) }

func (l *line) add(e entry.Entry, err error) *fact {
	if err != nil {
		panic(err) // the source of randomness can't fail, and no test writes 64 KiB
	}
	body, err := entry.DecodeBody(e.Body)
	if err != nil {
		panic(err)
	}
	f := &fact{id: e.ID(l.writer.Log), prev: l.at, header: e.Header, body: body, tip: e.Point}
	f.first = f
	if l.at != nil {
		f.first = l.at.first
	}
	l.at = f
	l.w.facts = append(l.w.facts, f)
	return f
}

// put appends an entry as written on a laptop that holds everything so far.
func (l *line) put(record entry.RecordID, body entry.Body) *fact {
	return l.putHolding(record, body, l.w.held())
}

func (l *line) putHolding(record entry.RecordID, body entry.Body, held uint64) *fact {
	return l.add(l.writer.Append(record, body, held, l.w.wall()))
}

// fork returns a second end of the log that leaves it after the fact, as a
// cloned disk makes it.
func (l *line) fork(after *fact) *line {
	other := *l
	other.at = after
	other.writer.Tip, other.writer.Lamport = after.tip, after.header.Lamport
	return &other
}

func ids(facts []*fact) (list []entry.ID) {
	for _, f := range facts {
		list = append(list, f.id)
	}
	return list
}

// reg is a register that isn't part of a map.
func reg(field uint32) entry.Register { return entry.Register{Field: field} }

func value(field uint32, text string, replaces ...*fact) entry.Change {
	return entry.Change{Register: reg(field), Op: entry.OpValue, Value: []byte(text), Replaces: ids(replaces)}
}

func refer(field uint32, to entry.RecordID) entry.Change {
	return entry.Change{Register: reg(field), Op: entry.OpReference, Value: []byte(to)}
}

func (l *line) write(record entry.RecordID, changes ...entry.Change) *fact {
	return l.put(record, entry.Body{Kind: entry.KindChanges, Changes: changes})
}

func (l *line) retire(record entry.RecordID, heads ...*fact) *fact {
	return l.put(record, entry.Body{Kind: entry.KindRetirement, Retirement: &entry.Retirement{Heads: ids(heads)}})
}

func (l *line) keep(record entry.RecordID) *fact {
	return l.put(record, entry.Body{Kind: entry.KindKeep})
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

// director and scout admit a new person's device at a depth below the root,
// by a grant in the given control log. They return its control and its data
// log; a scout has no use for a control log.
func (w *world) director(by *line, depth int) (control, data *line) {
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleDirector, 0, depth)
	by.grant(cert)
	return w.open(d, cert, true), w.open(d, cert, false)
}

func (w *world) scout(by *line, depth int) *line {
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleScout, 0, depth)
	by.grant(cert)
	return w.open(d, cert, false)
}

// Kinds of records. The numbers mean nothing to the ledger.
const (
	kindProspect entry.Kind = 1
	kindLook     entry.Kind = 2
	kindRep      entry.Kind = 3
	kindBoard    entry.Kind = 4
	kindNewer    entry.Kind = 900
)

func shared(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Shared, kindProspect, entry.PersonID{}, [16]byte{n})
}

func owned(kind entry.Kind, by *line, n byte) entry.RecordID {
	return entry.NewRecordID(entry.Owned, kind, by.device.person, [16]byte{n})
}

func board(n byte) entry.RecordID {
	return entry.NewRecordID(entry.Directors, kindBoard, entry.PersonID{}, [16]byte{n})
}

// without returns the facts but these and those that follow them in their logs.
func without(facts []*fact, gone ...*fact) (rest []*fact) {
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

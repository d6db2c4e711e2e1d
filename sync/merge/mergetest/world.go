package mergetest

import (
	"crypto/ed25519"
	"math/rand/v2"

	"plumbline/sync/entry"
)

// World is an invented staff and everything that it ever wrote. Its entries are
// made by the real writer, so that ids, chains and bodies are what laptops
// send. Equal seeds make equal worlds.
type World struct {
	Staff   entry.StaffID
	Root    *Line
	Facts   []*Fact
	random  *rand.ChaCha8
	lamport uint64 // the highest of all facts
}

// Device is a key pair with the person who holds it.
type Device struct {
	Key    ed25519.PrivateKey
	Person entry.PersonID
}

// ID names the device in cuts.
func (d Device) ID() entry.DeviceID { return entry.DeviceOf(d.public()) }

func (d Device) public() ed25519.PublicKey { return d.Key.Public().(ed25519.PublicKey) }

// NewWorld founds a staff. All that is written yet is the start of the root's
// control log.
func NewWorld(seed uint32) *World {
	w := &World{random: rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8), byte(seed >> 16), byte(seed >> 24)})}
	root := w.NewDevice()
	w.Staff = entry.StaffOf(root.public())
	w.Root = w.Open(root, nil, true)
	return w
}

func (w *World) bytes16() (b [16]byte) {
	_, _ = w.random.Read(b[:]) // documented never to fail
	return b
}

// wall is what the authors' clocks show: nothing that could order entries.
func (w *World) wall() int64 { return int64(w.random.Uint64() >> 20) }

// NewDevice makes a device of a new person, whom nobody has admitted.
func (w *World) NewDevice() Device {
	var seed [32]byte
	_, _ = w.random.Read(seed[:])
	return Device{Key: ed25519.NewKeyFromSeed(seed[:]), Person: w.bytes16()}
}

// Certificate makes a certificate whose rank is that of depth steps below the
// root.
func (w *World) Certificate(d Device, role entry.Role, generation uint64, depth int) []byte {
	return entry.Certificate{
		Opaque: w.bytes16(), Person: d.Person, Role: role, Device: d.public(),
		Generation: generation, Path: make([]entry.CertificateID, depth-1),
	}.Encode()
}

// Open starts a log.
func (w *World) Open(d Device, cert []byte, control bool) *Line {
	l := &Line{Device: d, Cert: cert, Writer: entry.Writer{Staff: w.Staff, Key: d.Key, Random: w.random}, world: w}
	e, err := l.Writer.Open(control, cert, w.lamport, w.wall())
	l.add(e, err)
	return l
}

// Director admits a new person's device at a depth below the root, by a grant
// in the given control log. It returns their control and their data log.
func (w *World) Director(by *Line, depth int) (control, data *Line) {
	d := w.NewDevice()
	cert := w.Certificate(d, entry.RoleDirector, 0, depth)
	by.Grant(cert)
	return w.Open(d, cert, true), w.Open(d, cert, false)
}

// Scout is like Director; a scout has no use for a control log.
func (w *World) Scout(by *Line, depth int) *Line {
	d := w.NewDevice()
	cert := w.Certificate(d, entry.RoleScout, 0, depth)
	by.Grant(cert)
	return w.Open(d, cert, false)
}

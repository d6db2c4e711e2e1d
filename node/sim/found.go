package sim

import (
	"crypto/ed25519"
	"encoding/binary"
	"io"
	"math/rand/v2"

	"plumbline/sync/entry"
)

// rootLog is the staff's root, which is on paper and holds its own log.
type rootLog struct {
	writer entry.Writer
	run    entry.Run
}

// found makes the root, whose log grants one or two directors; these admit the
// others, and everybody knows of everybody.
func (w *World) found() {
	d := newDice(w.plan.Seed, 3)
	random := chance(w.plan.Seed, 0)
	key := newKey(random)
	w.staff = entry.StaffOf(key.Public().(ed25519.PublicKey))
	w.root = &rootLog{writer: entry.Writer{Staff: w.staff, Key: key, Random: random}}
	w.root.run = entry.Run{After: entry.Point{Hash: entry.Origin(w.staff)}}
	first, err := w.root.writer.Open(true, nil, 0, 0)
	w.must(err)
	w.root.run.Log, w.root.run.Entries = w.root.writer.Log, []entry.Entry{first}
	linkKey := foundingKey(random)
	w.rootWrites(entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Hash: keyHash(linkKey)}})
	for n := range w.plan.Laptops {
		l := w.newLaptop(n < len(w.plan.Databases) && w.plan.Databases[n])
		l.ring.keys = [][32]byte{linkKey}
		w.laptops = append(w.laptops, l)
	}
	w.records = w.drawRecords()
	directors := 1 + d.IntN(2)
	for i, l := range w.laptops {
		if i < directors || d.one(6) {
			l.start()
			l.certificate = w.rootGrants(l, entry.RoleDirector, 0)
		}
	}
	chief := w.laptops[0]
	w.rootSpeaks(chief)
	for _, l := range w.laptops[1:] {
		if l.certificate == nil {
			w.admit(d, chief, l, d.one(5), nil)
		}
	}
	for _, l := range w.laptops[1:] {
		l.start()
		w.introduce(chief, l)
	}
	if d.one(2) {
		for i, a := range w.laptops {
			for _, b := range w.laptops[:i] {
				w.connect(a, b)
			}
		}
	}
	w.settle()
	w.check()
}

// chance is a source of randomness for keys, nonces and salts.
func chance(seed uint64, stream int) io.Reader {
	var key [32]byte
	binary.BigEndian.PutUint64(key[:], seed)
	binary.BigEndian.PutUint64(key[8:], uint64(stream))
	return rand.NewChaCha8(key)
}

func newKey(random io.Reader) ed25519.PrivateKey {
	seed := make([]byte, ed25519.SeedSize)
	_, _ = io.ReadFull(random, seed) // documented never to fail
	return ed25519.NewKeyFromSeed(seed)
}

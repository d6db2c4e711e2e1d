package sim

import (
	"crypto/sha256"
	"fmt"
	"io"
	"slices"

	"plumbline/node"
	"plumbline/storage"
	"plumbline/sync/merge"
)

// keyring is a laptop's file of link keys, the last one kept first.
type keyring struct {
	keys   [][32]byte
	faults *faults
	// refuses is how many more keys aren't taken: the file lies outside of the data
	// folder, maybe on another disk.
	refuses int
}

// Held implements [node.LinkKeys].
func (k *keyring) Held() [][32]byte { return k.keys }

// Keep implements [node.LinkKeys]. The file is replaced as a whole: after a loss of
// power it is the one before or the one after.
func (k *keyring) Keep(key [32]byte) error {
	if err := k.faults.fails("keep a link key"); err != nil {
		return err
	}
	if k.refuses > 0 {
		k.refuses--
		return fmt.Errorf("keep a link key: %w", storage.ErrFull)
	}
	if k.faults.moment("before write") {
		panic(died{})
	}
	if !slices.Contains(k.keys, key) {
		k.keys = append([][32]byte{key}, k.keys...)
	}
	if k.faults.moment("synced") {
		panic(died{})
	}
	return nil
}

func (k *keyring) copy(f *faults) *keyring { return &keyring{keys: slices.Clone(k.keys), faults: f} }

// keyHash is how a link key is announced.
func keyHash(key [32]byte) [32]byte {
	return sha256.Sum256(append([]byte("plumbline link key v1\x00"), key[:]...))
}

// opens parts the keys that a laptop holds into those that let others in and those
// that only serve to reach who was away (ledger rule 32).
func (l *Laptop) opens() (usable, former [][32]byte) {
	for _, key := range l.ring.keys {
		opens := false
		for _, k := range l.up.store.Verdict().LinkKeys {
			opens = opens || k.Usable && k.Body.Hash == keyHash(key)
		}
		if opens {
			usable = append(usable, key)
		} else {
			former = append(former, key)
		}
	}
	return usable, former
}

// keyed reports whether one of two laptops can dial the other: with any key that
// it holds, as long as the other listens for it, or with the one that two members
// have in common.
func keyed(a, b *Laptop) bool {
	if a.up == nil || b.up == nil {
		return false
	}
	members := !a.key.Equal(b.key) && a.allows(b) && b.allows(a)
	return members || dials(a, b) || dials(b, a)
}

func dials(from, to *Laptop) bool {
	usable, _ := to.opens()
	return slices.ContainsFunc(from.ring.keys, func(key [32]byte) bool { return slices.Contains(usable, key) })
}

// foundingKey is the first link key, which everybody has from the start.
func foundingKey(random io.Reader) (key [32]byte) {
	_, _ = io.ReadFull(random, key[:])
	return key
}

// checkKeys looks, in the end, at who holds what opens a laptop: all of its group,
// and nobody whom it no longer admits.
func (w *World) checkKeys(group []*Laptop) {
	for _, l := range group {
		if l.up.store.Blocked() || !l.allows(l) {
			return // nothing is folded there, or nobody will link with it
		}
	}
	first := group[0].passes()
	for _, l := range group {
		if passes := l.passes(); !sameKeys(first, passes) {
			w.fail("%s is opened by %d link keys and %s by %d, though they are linked", group[0], len(first), l, len(passes))
		}
		usable, _ := l.opens()
		for _, other := range w.laptops {
			_, _, admission := node.Best(l.up.store.Verdict(), other.public())
			if admission != merge.Revoked || other.readmitted {
				continue // of a readmission whose entry is lost the key is left
			}
			for _, key := range usable {
				if slices.Contains(other.ring.keys, key) {
					w.fail("%s is opened by a link key of %s, which it no longer admits", l, other)
				}
			}
		}
	}
	if len(first) > 0 {
		w.count.add("link key")
	}
	announced := slices.ContainsFunc(group[0].up.store.Verdict().LinkKeys, func(k merge.LinkKey) bool { return k.Usable })
	if !announced && slices.ContainsFunc(group, director) {
		w.fail("no link key is to open %s, though a director is linked, who could make one", group[0])
	}
}

// passes returns the keys that open the laptop and that it gives to its peers: those
// whose author had seen no more than it holds. With others the peer may be the very
// one that was cut.
func (l *Laptop) passes() [][32]byte {
	usable, _ := l.opens()
	return slices.DeleteFunc(usable, func(key [32]byte) bool {
		return slices.ContainsFunc(l.up.store.Verdict().LinkKeys, func(k merge.LinkKey) bool {
			return k.Waits && k.Body.Hash == keyHash(key)
		})
	})
}

// pair gives a laptop the keys that its inviter holds.
func (k *keyring) pair(from *keyring) {
	for _, key := range slices.Backward(from.keys) {
		if !slices.Contains(k.keys, key) {
			k.keys = append([][32]byte{key}, k.keys...)
		}
	}
}

func sameKeys(a, b [][32]byte) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(key [32]byte) bool { return !slices.Contains(b, key) })
}

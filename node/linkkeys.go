package node

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
	"plumbline/sync/merge"
	"plumbline/sync/wire"
)

// Link keys change after a loss: the control logs announce a new one by its
// hash, and the key itself travels only to laptops that are members. Which keys
// serve follows from the announcements alone, see [merge.LinkKey].

// LinkKeys keeps the link keys that a laptop holds.
type LinkKeys interface {
	// Held returns them, the last one kept first.
	Held() [][32]byte
	// Keep adds a key. When it returns without an error it is durable.
	Keep(key [32]byte) error
}

// ring is what a core knows of link keys beside those that it holds.
type ring struct {
	// due is set when the control entries have changed, or links may come.
	due bool
	// give is set when a peer may have to be given a key.
	give bool
	// made was kept, and its announcement couldn't be stored: nobody has heard of it.
	made *[32]byte
	// unannounced holds what peers gave before its announcement was stored.
	unannounced map[[32]byte][32]byte
}

// maxUnannounced is how many keys are held that nothing announces.
const maxUnannounced = 64

func keyHash(key [32]byte) [32]byte {
	return sha256.Sum256(append([]byte("plumbline link key v1\x00"), key[:]...))
}

// serving parts the keys held into those that open links and those that don't
// any more, or not yet. Both have the newest first.
func serving(v *merge.Verdict, held [][32]byte) (usable, former [][32]byte) {
	known := map[[32]byte][32]byte{}
	for _, key := range held {
		known[keyHash(key)] = key
	}
	var old [][32]byte
	for _, k := range v.LinkKeys {
		key, ok := known[k.Body.Hash]
		if !ok {
			continue
		}
		delete(known, k.Body.Hash)
		if k.Usable {
			usable = append(usable, key)
		} else {
			old = append(old, key)
		}
	}
	for _, key := range held {
		if _, unannounced := known[keyHash(key)]; unannounced {
			former = append(former, key)
		}
	}
	return usable, append(former, old...)
}

// newKey makes a link key and drafts its announcement. The key is on disk before
// anybody can hear of it: the other way round a crash would leave the staff with
// a key that nobody has. One that couldn't be announced is taken again: a new one at
// each attempt would push those out that stragglers know.
func (c *Core) newKey() (Draft, error) {
	if c.ring.made == nil {
		var key [32]byte
		if _, err := io.ReadFull(c.own.Random, key[:]); err != nil {
			return Draft{}, fmt.Errorf("read randomness: %w", err)
		}
		if err := c.keys.Keep(key); err != nil {
			return Draft{}, err
		}
		c.ring.made = &key
	}
	return Draft{Body: entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Hash: keyHash(*c.ring.made), Seen: c.controlHeads()}}}, nil
}

// maxHeads is how many heads fit into an announcement.
const maxHeads = 1000

// controlHeads names the ends of the control logs held. If there are too many,
// those in which cuts stand matter.
func (c *Core) controlHeads() []entry.ID {
	cuts := map[entry.LogID]int{}
	for _, cut := range c.ledger.Verdict().Cuts {
		cuts[cut.ID.Log] = 1
	}
	var heads []entry.ID
	for _, tip := range c.ledger.Tips() {
		if tip.Control {
			heads = append(heads, tip.Point.ID(tip.Log))
		}
	}
	slices.SortFunc(heads, func(a, b entry.ID) int { return cmp.Or(cuts[b.Log]-cuts[a.Log], a.Compare(b)) })
	return heads[:min(len(heads), maxHeads)]
}

// tendKeys does what is due about link keys once everything else is done. It
// reports whether that makes more to do.
func (c *Core) tendKeys(ctx context.Context, now time.Time) bool {
	if c.ring.due {
		c.ring.give = true
		c.keepAnnounced()
		if c.renewKey(ctx, now) {
			return true
		}
	}
	for _, l := range c.links {
		if !l.settled && l.ControlSettled() {
			l.settled, c.ring.give = true, true
		}
	}
	if c.ring.give {
		c.ring.give = false
		c.giveKeys()
	}
	return false
}

// renewKey makes a new key on a director's laptop that finds none usable: two
// directors have each changed it without hearing of the other. It waits until
// every peer's control logs are in, which may bring one.
func (c *Core) renewKey(ctx context.Context, now time.Time) bool {
	v := c.ledger.Verdict()
	if slices.ContainsFunc(v.LinkKeys, func(k merge.LinkKey) bool { return k.Usable }) {
		c.ring.due = false
		return false
	}
	for _, l := range c.links {
		if !l.ControlSettled() {
			return false
		}
	}
	c.ring.due = false
	certificate, err := c.own.Certificate()
	if err != nil {
		return false // who may not write leaves it to others
	}
	if allows, admission := v.Admission(certificate); admission != merge.Admitted || allows.Role != entry.RoleDirector || len(v.Newer) > 0 {
		return false
	}
	if _, err := c.save(ctx, now, Save{NewLinkKey: true}); err != nil {
		c.actions = append(c.actions, Failed{fmt.Errorf("change the link key: %w", err)})
		return false
	}
	return true
}

// giveKeys passes usable keys to linked members, once all that the peer knows of
// cuts is stored here. A key whose author had seen more than this laptop waits:
// the peer may be the very one that was cut.
func (c *Core) giveKeys() {
	v := c.ledger.Verdict()
	usable, _ := serving(v, c.keys.Held())
	usable = slices.DeleteFunc(usable, func(key [32]byte) bool {
		return slices.ContainsFunc(v.LinkKeys, func(k merge.LinkKey) bool { return k.Body.Hash == keyHash(key) && k.Waits })
	})
	members := v.Admitted()
	for _, link := range slices.Sorted(maps.Keys(c.links)) {
		l := c.links[link]
		if _, member := members[l.device]; !member || !l.settled {
			continue
		}
		var give [][32]byte
		for _, key := range usable {
			if !l.given[key] {
				l.given[key] = true
				give = append(give, key)
			}
		}
		if len(give) > 0 {
			c.actions = append(c.actions, Send{link, encodeKeys(give)})
		}
	}
}

// takeKeys reports whether a message brings link keys, and takes them.
func (c *Core) takeKeys(link LinkID, message []byte) bool {
	if len(message) == 0 || message[0] != exchange.KindLinkKeys {
		return false
	}
	keys, err := decodeKeys(message)
	if err != nil {
		c.actions = append(c.actions, Drop{link, err})
		c.forget(link)
		return true
	}
	if c.ring.unannounced == nil {
		c.ring.unannounced = map[[32]byte][32]byte{}
	}
	for _, key := range keys {
		c.links[link].given[key] = true // it needs no telling
		if len(c.ring.unannounced) < maxUnannounced && !slices.Contains(c.keys.Held(), key) {
			c.ring.unannounced[keyHash(key)] = key
		}
	}
	c.keepAnnounced()
	return true
}

// keepAnnounced keeps the keys given whose announcement counts by now.
func (c *Core) keepAnnounced() {
	announced := c.ledger.Verdict().LinkKeys
	for _, k := range slices.Backward(announced) {
		key, given := c.ring.unannounced[k.Body.Hash]
		if !given {
			continue
		}
		if err := c.keys.Keep(key); err != nil {
			c.actions = append(c.actions, Failed{fmt.Errorf("keep the new link key: %w", err)})
			continue
		}
		delete(c.ring.unannounced, k.Body.Hash)
		c.ring.give = true
	}
}

// tryAgainAfter is how long a disk that took no link key is left alone.
const tryAgainAfter = 5 * time.Second

// tryAgain lets the core try in a while what [Failed] told of: peers that have
// given a key don't give it twice over a link, and links may last for days. It is
// called with mu held.
func (n *Node) tryAgain() {
	if n.again {
		return
	}
	n.again = true
	n.spawnLocked(func() {
		select {
		case <-n.ctx.Done():
			return
		case <-time.After(tryAgainAfter):
		}
		n.mu.Lock()
		n.again = false
		n.mu.Unlock()
		n.put(Tend{})
	})
}

func encodeKeys(keys [][32]byte) []byte {
	out := binary.AppendUvarint([]byte{exchange.KindLinkKeys}, uint64(len(keys)))
	for _, key := range keys {
		out = append(out, key[:]...)
	}
	return out
}

func decodeKeys(message []byte) ([][32]byte, error) {
	d := wire.Decoder{Rest: bytes.Clone(message[1:])}
	var keys [][32]byte
	for range d.Count() {
		keys = append(keys, d.Array32())
	}
	if err := d.Done(); err != nil {
		return nil, fmt.Errorf("%w: link keys: %w", exchange.ErrMalformed, err)
	}
	return keys, nil
}

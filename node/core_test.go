package node

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// island is a core with a real database and no process around it. Time and
// randomness come from the test, and links are queues of messages.
type island struct {
	core  *Core
	store *storage.Store
	sent  map[LinkID][][]byte
	kept  []entry.ID
	keys  *heldInMemory
	root  *entry.Writer // all isles share it
	id    entry.DeviceID
}

// isles makes a staff of so many, the first a director, all granted.
func isles(t *rapid.T, folder string, count int, seed uint64) []*island {
	random := rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8)})
	_, root, err := ed25519.GenerateKey(random)
	require.NoError(t, err)
	staff := entry.StaffOf(root.Public().(ed25519.PublicKey))
	w := entry.Writer{Staff: staff, Key: root, Random: random}
	grants := entry.Run{After: entry.Point{Hash: entry.Origin(staff)}}
	first, err := w.Open(true, nil, 0, 0)
	require.NoError(t, err)
	grants.Log, grants.Entries = w.Log, []entry.Entry{first}
	var all []*island
	for i := range count {
		_, key, err := ed25519.GenerateKey(random)
		require.NoError(t, err)
		cert := entry.Certificate{Person: entry.PersonID{byte(i + 1)}, Role: entry.RoleScout, Device: key.Public().(ed25519.PublicKey)}
		grant, err := w.Append("", entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: cert.Encode()}}, 0, 0)
		require.NoError(t, err)
		grants.Entries = append(grants.Entries, grant)
		store, err := storage.Open(context.Background(), filepath.Join(folder, fmt.Sprint(i, ".db")), storage.Options{Staff: staff, Projector: projector{}})
		require.NoError(t, err)
		own := &OwnLogs{Staff: staff, Key: key, Random: random, Certificate: func() ([]byte, error) { return cert.Encode(), nil }}
		keys := &heldInMemory{}
		all = append(all, &island{
			core: NewCore(store, own, keys), store: store, sent: map[LinkID][][]byte{}, keys: keys, root: &w, id: entry.DeviceOf(cert.Device),
		})
	}
	grants.Points = []entry.SignedPoint{w.Sign()}
	for _, isle := range all {
		isle.step(t, Introduced{Runs: []entry.Run{grants}})
	}
	return all
}

func (i *island) step(t *rapid.T, events ...Event) Saved {
	var saved Saved
	for _, a := range i.core.Step(context.Background(), time.Unix(0, 0), events...) {
		switch a := a.(type) {
		case Send:
			i.sent[a.Link] = append(i.sent[a.Link], bytes.Clone(a.Message))
		case Saved:
			require.NoError(t, a.Err)
			saved = a
		case Drop:
			t.Fatalf("link dropped: %v", a.Err)
		}
	}
	return saved
}

// deliver carries one message from a to b over a link that both number alike.
func deliver(t *rapid.T, a, b *island, link LinkID) bool {
	queue := a.sent[link]
	if len(queue) == 0 {
		return false
	}
	a.sent[link] = queue[1:]
	b.step(t, Received{Link: link, Message: queue[0]})
	return true
}

// Two laptops write, link, are cut at any message and link again: in the end
// both hold every saved entry, and come to the same state.
func TestTwoCoresAgreeWhateverIsCut(t *testing.T) {
	parent := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		folder, err := os.MkdirTemp(parent, "isles")
		require.NoError(t, err)
		pair := isles(t, folder, 2, rapid.Uint64().Draw(t, "seed"))
		a, b := pair[0], pair[1]
		defer a.store.Close()
		defer b.store.Close()
		shared := entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, [16]byte{1})
		link := LinkID(1)
		up := false
		for n := range rapid.IntRange(5, 40).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"write", "write", "cut", "carry", "carry", "carry"}).Draw(t, "what") {
			case "write":
				who := rapid.SampledFrom(pair).Draw(t, "who")
				reg := record.Must(record.Prospect, "name")
				v, err := reg.Parse(fmt.Sprint("Orrin Vale ", n))
				require.NoError(t, err)
				s := who.step(t, Save{Drafts: []Draft{{Record: shared, Body: entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{{
					Register: reg.Address(), Op: v.Op, Value: v.Bytes,
				}}}}}})
				who.kept = append(who.kept, s.IDs...)
			case "cut":
				if up {
					a.step(t, Unlinked{link})
					b.step(t, Unlinked{link})
				}
				link, up = link+1, true
				a.step(t, Linked{Link: link})
				b.step(t, Linked{Link: link})
			case "carry":
				if rapid.Bool().Draw(t, "way") {
					deliver(t, a, b, link)
				} else {
					deliver(t, b, a, link)
				}
			}
		}
		if !up {
			a.step(t, Linked{Link: link})
			b.step(t, Linked{Link: link})
		}
		for deliver(t, a, b, link) || deliver(t, b, a, link) {
		}
		require.Equal(t, a.store.StateHash(), b.store.StateHash())
		for _, id := range append(a.kept, b.kept...) {
			for _, isle := range pair {
				_, held, err := isle.store.Entry(context.Background(), id)
				require.NoError(t, err)
				require.Truef(t, held, "%s is missing", id)
			}
		}
		row, err := a.store.Record(context.Background(), shared)
		if len(a.kept)+len(b.kept) > 0 {
			require.NoError(t, err)
			require.Len(t, row.Registers[0].Live, len(a.kept)+len(b.kept), "nobody replaced anything")
		}
	})
}

// A laptop that can't store blames no log for it: it ends the link, and pulls
// everything over the next one.
func TestWhatCouldNotBeStoredIsAskedForAgain(t *testing.T) {
	folder := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		folder, err := os.MkdirTemp(folder, "isles")
		require.NoError(t, err)
		pair := isles(t, folder, 2, rapid.Uint64().Draw(t, "seed"))
		a, b := pair[0], pair[1]
		defer a.store.Close()
		defer b.store.Close()
		v, err := record.Must(record.Prospect, "name").Parse("Orrin Vale")
		require.NoError(t, err)
		id := entry.NewRecordID(entry.Shared, record.Prospect, entry.PersonID{}, [16]byte{1})
		a.step(t, Save{Drafts: []Draft{{Record: id, Body: entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{{
			Register: record.Must(record.Prospect, "name").Address(), Op: v.Op, Value: v.Bytes}}}}}})
		a.step(t, Linked{Link: 1})
		b.step(t, Linked{Link: 1})
		broken, cancel := context.WithCancel(context.Background())
		cancel() // whatever is to be stored fails, as on a full disk
		dropped := false
		for len(a.sent[1])+len(b.sent[1]) > 0 && !dropped {
			deliver(t, b, a, 1)
			if len(a.sent[1]) == 0 {
				continue
			}
			message := a.sent[1][0]
			a.sent[1] = a.sent[1][1:]
			for _, act := range b.core.Step(broken, time.Unix(0, 0), Received{1, message}) {
				switch act := act.(type) {
				case Send:
					b.sent[1] = append(b.sent[1], bytes.Clone(act.Message))
				case Drop:
					dropped = true
				}
			}
		}
		require.True(t, dropped)
		a.step(t, Unlinked{1}, Linked{Link: 2})
		b.step(t, Linked{Link: 2})
		for deliver(t, a, b, 2) || deliver(t, b, a, 2) {
		}
		require.Equal(t, a.store.StateHash(), b.store.StateHash())
	})
}

func TestAFailingDiskIsNoPeersFault(t *testing.T) {
	for _, err := range []error{storage.ErrFull, storage.ErrDisk, storage.ErrUnsynced, storage.ErrReadOnly, storage.ErrCorrupt, context.Canceled} {
		require.True(t, ownFault(fmt.Errorf("append: %w", err)), err)
	}
	for _, err := range []error{storage.ErrDetached, storage.ErrSetAsideFull, entry.ErrMalformed} {
		require.False(t, ownFault(fmt.Errorf("append: %w", err)), err)
	}
}

package node

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// heldInMemory keeps link keys as a disk does that takes what it is told, until
// it is full.
type heldInMemory struct {
	keys [][32]byte
	full bool
}

func (h *heldInMemory) Held() [][32]byte { return h.keys }

func (h *heldInMemory) Keep(key [32]byte) error {
	if h.full {
		return errors.New("the disk is full")
	}
	h.keys = append([][32]byte{key}, h.keys...)
	return nil
}

// usable returns the link keys that open this laptop.
func (l *laptop) usable() [][32]byte { return l.linkKeys() }

// linkedTo reports whether there is a link to the other one.
func (l *laptop) linkedTo(other *laptop) bool {
	_, linked := l.Node.linked()[entry.DeviceOf(other.public())]
	return linked
}

// eventually waits for what must come; the time only ends a test that hangs.
func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	require.Eventually(t, ok, time.Minute, 10*time.Millisecond, what)
}

func sameKeys(t testing.TB, laptops ...*laptop) {
	t.Helper()
	eventually(t, "all have the same usable keys", func() bool {
		want := laptops[0].usable()
		for _, l := range laptops {
			if got := l.usable(); len(want) == 0 || len(got) != len(want) || got[0] != want[0] {
				return false
			}
		}
		return true
	})
}

// silent dials the laptop with another one's keys and certificate, and wants not
// a byte after the handshake.
func silent(t *testing.T, at *laptop, thief *laptop) {
	t.Helper()
	for _, held := range thief.id().linkKeys() {
		conn, err := tls.Dial("tcp", at.mesh.Address().String(), &tls.Config{MinVersion: tls.VersionTLS13, InsecureSkipVerify: true})
		require.NoError(t, err)
		defer conn.Close()
		state := conn.ConnectionState()
		e, err := state.ExportKeyingMaterial("EXPORTER-plumbline-link-v1", nil, 32)
		require.NoError(t, err)
		_, err = conn.Write(dialCode(held, thief.store.Staff(), e))
		require.NoError(t, err)
		require.NoError(t, conn.SetReadDeadline(time.Now().Add(time.Minute)))
		got, _ := io.ReadAll(conn)
		require.Empty(t, got, "it answers to a key that a lost laptop knows")
	}
	thief.mesh.Close()
	err := thief.Connect(t.Context(), at.mesh.Address().String())
	require.Error(t, err)
}

// A revoked laptop's link key opens no laptop that has heard of it, and those
// that haven't are reached and get the new one.
func TestRule32ALostLaptopsKeyOpensNothing(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	away := join(t, a, "Ilse Brandt", false)
	lost := join(t, a, "Pia Norrland", false)
	for _, l := range []*laptop{b, away, lost} {
		connect(t, a, l)
	}
	old := a.usable()
	require.Len(t, old, 1, "the founding key")
	away.stopNow()
	lost.stopNow()

	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	require.Len(t, a.usable(), 1)
	require.NotEqual(t, old, a.usable())
	sameKeys(t, a, b)

	lost.restart()
	require.Equal(t, old, lost.usable(), "it hasn't heard of its cut")
	silent(t, a, lost)
	silent(t, b, lost)
	lost.stopNow()

	away.restart()
	eventually(t, "who was away is reached", func() bool { return a.linkedTo(away) })
	sameKeys(t, a, b, away)
	id := away.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, away)
	require.Equal(t, []string{"Orrin Vale"}, b.texts(id, "name"))
}

// Two scouts were away while the director changed the key and is gone now: one
// of them met the director, the other one meets only that scout.
func TestRule32AStragglerGetsTheKeyFromAnybody(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	away := join(t, a, "Ilse Brandt", false)
	lost := join(t, a, "Pia Norrland", false)
	for _, l := range []*laptop{b, away, lost} {
		connect(t, a, l)
	}
	connect(t, b, away)
	lost.stopNow()
	away.stopNow()
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	sameKeys(t, a, b)
	key := a.usable()
	a.stopNow()
	away.restart()
	eventually(t, "the key has come", func() bool { return len(away.usable()) == 1 && away.usable()[0] == key[0] })
}

// Two directors revoke at once, each somebody else, and neither hears of the
// other: neither key has seen both cuts. They still link, make a new one, and
// everybody gets it.
func TestRule32TwoDirectorsWhoChangeTheKeyAtOnceConverge(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	c := join(t, a, "Ilse Brandt", false)
	first := join(t, a, "Pia Norrland", false)
	for _, l := range []*laptop{b, c, first} {
		connect(t, a, l)
	}
	agree(t, a, b, c)
	first.stopNow()
	second := join(t, b, "Signe Kvist", false) // below b, who can cut only those
	agree(t, a, b, c)
	second.stopNow()
	a.alone()
	b.alone()
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	_, err = b.Revoke(t.Context(), "Signe Kvist", false)
	require.NoError(t, err)
	mine, theirs := a.usable(), b.usable()
	require.Len(t, mine, 1)
	require.Len(t, theirs, 1)
	require.NotEqual(t, mine, theirs)

	c.stopNow()
	a.restart()
	b.restart()
	connect(t, a, b)
	sameKeys(t, a, b)
	require.NotContains(t, a.usable(), mine[0], "it hasn't seen b's cut")
	require.NotContains(t, a.usable(), theirs[0], "it hasn't seen a's cut")
	c.restart()
	require.NoError(t, a.Connect(t.Context(), c.mesh.Address().String()))
	sameKeys(t, a, b, c)
	first.restart()
	second.restart()
	for _, at := range []*laptop{a, b, c} {
		silent(t, at, first)
		first.restart()
		silent(t, at, second)
		second.restart()
	}
}

// A key whose author was cut isn't used, though everybody holds it.
func TestRule32AKeyWhoseAuthorWasCutIsUnusable(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	lost := join(t, b, "Signe Kvist", false)
	agree(t, a, b, c)
	lost.stopNow()
	_, err := b.Revoke(t.Context(), "Signe Kvist", false)
	require.NoError(t, err)
	sameKeys(t, a, b, c)
	key := b.usable()[0]
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	sameKeys(t, a, c)
	require.NotContains(t, a.usable(), key)
	require.NotContains(t, c.usable(), key)
	require.Contains(t, a.formerKeys(), key)
}

// The change is whole or not there: where the key can't be kept nothing is
// written, and a process that dies between the key and its announcement leaves a
// key that nobody uses.
func TestRule32AChangeIsWholeOrNotThere(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	lost := join(t, a, "Pia Norrland", false)
	connect(t, a, b)
	before, old := len(a.store.Verdict().Cuts), a.usable()
	hidden := a.cfg.State + " gone"
	require.NoError(t, os.Rename(a.cfg.State, hidden))
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.Error(t, err)
	require.NoError(t, os.Rename(hidden, a.cfg.State))
	require.Len(t, a.store.Verdict().Cuts, before, "cut without a new key")
	require.Equal(t, old, a.usable())

	// As a crash leaves it: the key is kept and not announced.
	require.NoError(t, heldKeys{a.Node}.Keep([32]byte{9}))
	a.restart()
	require.Equal(t, old, a.usable())
	connect(t, a, b)

	// Started again in the middle, before anybody has heard of it.
	b.stopNow()
	lost.stopNow()
	_, err = a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	fresh := a.usable()
	a.restart()
	require.Equal(t, fresh, a.usable())
	b.restart()
	require.NoError(t, a.Connect(t.Context(), b.mesh.Address().String()))
	sameKeys(t, a, b)
	b.restart()
	require.Equal(t, a.usable(), b.usable())
}

// A laptop whose disk takes no key goes on, and gets it over the next link.
func TestRule32AKeyThatCouldNotBeKeptComesAgain(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	join(t, a, "Pia Norrland", false).stopNow()
	connect(t, a, b)
	hidden := b.cfg.State + " gone"
	require.NoError(t, os.Rename(b.cfg.State, hidden))
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	agree(t, a, b)
	require.NotContains(t, b.id().linkKeys(), a.usable()[0])
	require.NoError(t, os.Rename(hidden, b.cfg.State))
	b.restart()
	eventually(t, "the key has come", func() bool { u := b.usable(); return len(u) > 0 && u[0] == a.usable()[0] })
}

// Its link may last for days, and peers give a key only once over it. So the laptop
// tries again by itself.
func TestRule32AKeyThatCouldNotBeKeptIsTriedAgain(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	join(t, a, "Pia Norrland", false).stopNow()
	connect(t, a, b)
	hidden := b.cfg.State + " gone"
	require.NoError(t, os.Rename(b.cfg.State, hidden))
	links := b.linksSoFar()
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	eventually(t, "the key was given", func() bool { return b.triesAgain() })
	require.NoError(t, os.Rename(hidden, b.cfg.State))
	sameKeys(t, a, b)
	require.Equal(t, links, b.linksSoFar(), "over the link that there was")
}

// A director's laptop whose disk can't take the new key when it is wanted makes it
// later, without anything new happening.
func TestRule32AKeyThatCouldNotBeMadeIsMadeLater(t *testing.T) {
	a := found(t)
	hidden := a.cfg.State + " gone"
	require.NoError(t, os.Rename(a.cfg.State, hidden))
	require.NoError(t, a.save(Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{Device: entry.DeviceID{1}}}}))
	require.True(t, a.triesAgain())
	require.NoError(t, os.Rename(hidden, a.cfg.State))
	eventually(t, "a key is made", func() bool { return len(a.usable()) == 1 })
	require.False(t, a.triesAgain())
}

// While a new key can't be announced none is made anew at each attempt: the keys that
// others know would be pushed out.
func TestRule32AttemptsToChangeTheKeyPushNoneOut(t *testing.T) {
	a := found(t)
	known := a.id().linkKeys()
	broken, cancel := context.WithCancel(t.Context())
	cancel() // whatever is to be stored fails, as on a full disk
	a.mu.Lock()
	cut, err := a.own.Write([]Draft{{Body: entry.Body{Kind: entry.KindCut, Cut: &entry.Cut{Device: entry.DeviceID{1}}}}}, a.store.Lamport(), time.Unix(0, 0))
	require.NoError(t, err)
	_, err = a.store.Append(t.Context(), cut.Runs...)
	require.NoError(t, err)
	a.own.Commit(cut)
	for range 3 {
		require.IsType(t, Failed{}, a.core.Step(broken, time.Unix(0, 0), Tend{})[0])
	}
	a.mu.Unlock()
	require.Len(t, a.id().linkKeys(), len(known)+1)
	made := a.id().linkKeys()[0]
	a.step(Tend{})
	require.Equal(t, [][32]byte{made}, a.usable())
	require.NoError(t, a.step(Save{NewLinkKey: true}).Err)
	require.NotEqual(t, made, a.id().linkKeys()[0], "what was announced is used once")
}

func (l *laptop) triesAgain() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.again
}

func (l *laptop) linksSoFar() LinkID {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.lastLink
}

// Rule 31: keys go only to members, after the control logs. Whoever was cut in
// the same step gets the cut and no key.
func TestRule31KeysGoOnlyToMembers(t *testing.T) {
	a := found(t)
	lost := join(t, a, "Pia Norrland", false)
	connect(t, a, lost)
	_, err := a.Revoke(t.Context(), "Pia Norrland", false)
	require.NoError(t, err)
	eventually(t, "it has heard of its cut", func() bool { return len(lost.store.Verdict().Cuts) == 1 })
	eventually(t, "its link is over", func() bool { return len(lost.Node.linked()) == 0 })
	require.NotContains(t, lost.id().linkKeys(), a.usable()[0])
	data, err := os.ReadFile(filepath.Join(lost.cfg.State, identityFile))
	require.NoError(t, err)
	require.NotEmpty(t, data)
	require.Empty(t, lost.usable(), "it knows that its key serves no more")
}

// A director's laptop that starts and finds no usable key makes one.
func TestADirectorFindsNoUsableKey(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	b.stopNow()
	a.alone()
	hidden := a.cfg.State + " gone"
	require.NoError(t, os.Rename(a.cfg.State, hidden))
	cut := entry.Cut{Device: entry.DeviceID{1}}
	require.NoError(t, a.save(Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &cut}}))
	require.NoError(t, os.Rename(hidden, a.cfg.State))
	require.Empty(t, a.usable())
	a.restart()
	require.Len(t, a.usable(), 1)
	b.restart()
	require.NoError(t, a.Connect(t.Context(), b.mesh.Address().String()))
	sameKeys(t, a, b)
}

// announced makes a key known in a log of the root.
func (i *island) announced(t *rapid.T, key [32]byte, seen ...entry.ID) entry.Run {
	first, err := i.root.Open(true, nil, 0, 0)
	require.NoError(t, err)
	run := entry.Run{Log: i.root.Log, After: entry.Point{Hash: entry.Origin(i.root.Staff)}, Entries: []entry.Entry{first}}
	e, err := i.root.Append("", entry.Body{Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Hash: keyHash(key), Seen: seen}}, 0, 0)
	require.NoError(t, err)
	run.Entries, run.Points = append(run.Entries, e), []entry.SignedPoint{i.root.Sign()}
	return run
}

// Rule 31, on two cores whose links, disks and randomness are the test's: a key
// is given once the control logs are in, to a member, if its author had seen no
// more than the giver, and kept only once it is announced there.
func TestRule31WhenAKeyIsGiven(t *testing.T) {
	folder := t.TempDir()
	key := [32]byte{7}
	cases := map[string]struct {
		seen     []entry.ID
		stranger bool
		full     bool
		given    bool
	}{
		"to a member":                         {given: true},
		"to somebody else":                    {stranger: true},
		"whose author had seen more":          {seen: []entry.ID{{Seq: 3}}},
		"to a member who can't keep it today": {full: true},
	}
	rapid.Check(t, func(t *rapid.T) {
		c := cases[rapid.SampledFrom(slices.Sorted(maps.Keys(cases))).Draw(t, "given")]
		parent, err := os.MkdirTemp(folder, "isles")
		require.NoError(t, err)
		pair := isles(t, parent, 2, rapid.Uint64().Draw(t, "seed"))
		a, b := pair[0], pair[1]
		defer a.store.Close()
		defer b.store.Close()
		a.keys.keys = [][32]byte{key}
		b.keys.full = c.full
		a.step(t, Introduced{Runs: []entry.Run{a.announced(t, key, c.seen...)}})
		other := b.id
		if c.stranger {
			other = entry.DeviceID{9}
		}
		a.step(t, Linked{Link: 1, Device: other})
		require.Empty(t, keysIn(a.sent[1]), "before the control logs")
		a.step(t, Linked{Link: 3, Device: b.id}) // whose control logs don't come
		b.step(t, Linked{Link: 1, Device: a.id})
		for deliver(t, a, b, 1) || deliver(t, b, a, 1) {
		}
		require.Equal(t, c.given, slices.Contains(b.keys.keys, key))
		require.Empty(t, keysIn(a.sent[3]), "before that peer's control logs")
		if c.full {
			b.keys.full = false
			if rapid.Bool().Draw(t, "over another link") {
				a.step(t, Unlinked{1}, Linked{Link: 2, Device: b.id})
				b.step(t, Unlinked{1}, Linked{Link: 2, Device: a.id})
				for deliver(t, a, b, 2) || deliver(t, b, a, 2) {
				}
			} else {
				b.step(t, Tend{})
			}
			require.Contains(t, b.keys.keys, key)
		}
	})
}

func keysIn(messages [][]byte) (keys [][]byte) {
	for _, m := range messages {
		if m[0] == exchange.KindLinkKeys {
			keys = append(keys, m)
		}
	}
	return keys
}

// What isn't a list of keys ends the link that brought it.
func TestMalformedKeysEndTheLink(t *testing.T) {
	folder := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		parent, err := os.MkdirTemp(folder, "isles")
		require.NoError(t, err)
		a := isles(t, parent, 1, 1)[0]
		defer a.store.Close()
		a.step(t, Linked{Link: 1, Device: a.id})
		message := append([]byte{exchange.KindLinkKeys, 2}, rapid.SliceOfN(rapid.Byte(), 0, 63).Draw(t, "short")...)
		actions := a.core.Step(context.Background(), time.Unix(0, 0), Received{1, message})
		require.Len(t, actions, 1)
		require.ErrorIs(t, actions[0].(Drop).Err, exchange.ErrMalformed)
		require.Nil(t, a.core.Session(1))
	})
}

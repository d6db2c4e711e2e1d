package node

import (
	"errors"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// laptop is a real node in temporary folders. All names in these tests are
// invented.
type laptop struct {
	*Node
	t    testing.TB
	cfg  Config
	name string
	// takesAlong lets it join another staff with what it wrote alone.
	takesAlong bool
}

func open(t testing.TB, cfg Config) *Node {
	t.Helper()
	n, err := Open(t.Context(), cfg)
	require.NoError(t, err)
	return n
}

// newLaptop opens a node with links on the loopback address and no beacon.
func newLaptop(t testing.TB, name string) *laptop {
	t.Helper()
	l := &laptop{t: t, name: name, cfg: Config{
		Data: t.TempDir(), State: t.TempDir(), Version: "test", Links: &Links{Host: "127.0.0.1", Port: -1},
	}}
	l.Node = open(t, l.cfg)
	t.Cleanup(func() { l.stopNow() })
	return l
}

func (l *laptop) stopNow() {
	if l.Node != nil {
		require.NoError(l.t, l.Close())
		l.Node = nil
	}
}

func (l *laptop) restart() {
	l.t.Helper()
	l.stopNow()
	l.Node = open(l.t, l.cfg)
}

// alone opens the folder without links, as a command does.
func (l *laptop) alone() {
	l.t.Helper()
	l.stopNow()
	cfg := l.cfg
	cfg.Links = nil
	l.Node = open(l.t, cfg)
}

// found makes a staff with one director.
func found(t testing.TB) *laptop {
	t.Helper()
	l := newLaptop(t, "Maren Ostrava")
	_, _, err := l.Found(t.Context(), "Harbor Point", l.name, "maren's laptop")
	require.NoError(t, err)
	return l
}

// join pairs a new laptop with the director's, both screens answered.
func join(t testing.TB, director *laptop, name string, asDirector bool) *laptop {
	t.Helper()
	newcomer := newLaptop(t, name)
	pair(t, director, newcomer, name, asDirector)
	return newcomer
}

func pair(t testing.TB, director, newcomer *laptop, name string, asDirector bool) {
	t.Helper()
	pairAt(t, director, newcomer, name, asDirector, func(address string) string { return loopback([]string{address}) })
}

// pairAt lets the newcomer join by another address than the one shown.
func pairAt(t testing.TB, director, newcomer *laptop, name string, asDirector bool, at func(string) string) {
	t.Helper()
	invited, ended := make(chan PairingStep, 1), make(chan error, 1)
	codes := map[string]chan PairingStep{"inviter": make(chan PairingStep, 4), "joiner": make(chan PairingStep, 4)}
	go func() {
		ended <- director.Invite(t.Context(), name, "area_scout", asDirector, func(s PairingStep) error {
			switch s.Step {
			case "waiting":
				invited <- s
			case "code":
				codes["inviter"] <- s
			}
			return nil
		})
	}()
	waiting := <-invited
	joined := make(chan error, 1)
	go func() {
		joined <- newcomer.Join(t.Context(), JoinRequest{Address: at(waiting.Addresses[0]), Word: waiting.Word, Device: name + "'s laptop", TakeAlong: newcomer.takesAlong}, func(s PairingStep) error {
			if s.Step == "code" {
				codes["joiner"] <- s
			}
			return nil
		})
	}()
	var a, b PairingStep
	for a.Code == "" || b.Code == "" {
		select {
		case a = <-codes["inviter"]:
		case b = <-codes["joiner"]:
		case err := <-ended:
			require.NoError(t, err, "inviting ended early")
		case err := <-joined:
			require.NoError(t, err, "joining ended early")
		}
	}
	require.NoError(t, director.Answer(a.Pairing, b.Code))
	require.NoError(t, newcomer.Answer(b.Pairing, a.Code))
	for range 2 {
		select {
		case err := <-ended:
			require.NoError(t, err, "inviting")
		case err := <-joined:
			if err != nil {
				require.NoError(t, <-ended, "inviting, when joining ended with "+err.Error())
			}
			require.NoError(t, err, "joining")
		}
	}
}

// loopback is where this machine finds what listens at the addresses, which
// share a port.
func loopback(addresses []string) string {
	_, port, err := net.SplitHostPort(addresses[0])
	if err != nil {
		panic(err)
	}
	return net.JoinHostPort("127.0.0.1", port)
}

// connect links two laptops and waits until they hold the same.
func connect(t testing.TB, a, b *laptop) {
	t.Helper()
	address := loopback([]string{a.mesh.Address().String()})
	require.NoError(t, b.Connect(t.Context(), address))
	agree(t, a, b)
}

// agree waits until laptops hold the same entries.
func agree(t testing.TB, laptops ...*laptop) {
	t.Helper()
	require.Eventually(t, func() bool {
		first, err := laptops[0].Status(t.Context())
		require.NoError(t, err)
		for _, l := range laptops[1:] {
			s, err := l.Status(t.Context())
			require.NoError(t, err)
			if s.Entries != first.Entries || s.StateHash != first.StateHash {
				return false
			}
		}
		return true
	}, 20*time.Second, 10*time.Millisecond)
}

func (l *laptop) add(kind string, fields ...string) entry.RecordID {
	l.t.Helper()
	ids, err := l.Write(l.t.Context(), []Write{{Kind: kind, Sets: sets(fields)}})
	require.NoError(l.t, err)
	return ids[0]
}

func sets(fields []string) []Set {
	var out []Set
	for i := 0; i < len(fields); i += 2 {
		out = append(out, Set{Field: fields[i], Text: fields[i+1]})
	}
	return out
}

// set writes over what this laptop shows.
func (l *laptop) set(id entry.RecordID, field, text string) {
	l.t.Helper()
	_, err := l.Write(l.t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: field, Text: text, Seen: l.shown(id, field)}}}})
	require.NoError(l.t, err)
}

// asOf is up to where this laptop shows a record.
func (l *laptop) asOf(ref string) string {
	l.t.Helper()
	d, err := l.Get(l.t.Context(), ref, false, "")
	require.NoError(l.t, err)
	return d.AsOf
}

// retire hides a record as this laptop shows it.
func (l *laptop) retire(ref string) Retired {
	l.t.Helper()
	r, err := l.Retire(l.t.Context(), ref, l.asOf(ref))
	require.NoError(l.t, err)
	return r
}

// keep answers what this laptop shows of a record.
func (l *laptop) keep(ref string) Record {
	l.t.Helper()
	r, err := l.Keep(l.t.Context(), ref, l.asOf(ref))
	require.NoError(l.t, err)
	return r
}

// shown returns the ids that stand behind a field on the screen.
func (l *laptop) shown(id entry.RecordID, field string) []string {
	return idsOf(l.field(id, field).Values)
}

func idsOf(values []Value) []string {
	var ids []string
	for _, v := range values {
		ids = append(ids, v.ID.String())
	}
	return ids
}

func (l *laptop) field(id entry.RecordID, name string) Field {
	l.t.Helper()
	d, err := l.Get(l.t.Context(), id.String(), false, "")
	require.NoError(l.t, err)
	for _, f := range d.Record.Fields {
		if f.Name == name {
			return f
		}
	}
	return Field{Name: name}
}

func (l *laptop) texts(id entry.RecordID, name string) []string {
	var texts []string
	for _, v := range l.field(id, name).Values {
		texts = append(texts, v.Text)
	}
	return texts
}

func refused(t testing.TB, err, reason error) {
	t.Helper()
	require.Error(t, err)
	require.Truef(t, errors.Is(err, reason), "got %v, want %v", err, reason)
}

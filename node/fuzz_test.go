package node

import (
	"bytes"
	"crypto/ed25519"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/exchange"
)

// FuzzIntroduction reads what a stranger with a link key sends to be introduced,
// and a welcome's control logs. Nothing of it verifies that nobody signed.
func FuzzIntroduction(f *testing.F) {
	staff, device := entry.StaffID{1}, ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)).Public().(ed25519.PublicKey)
	f.Add([]byte{0})
	f.Add(append(append([]byte{1}, make([]byte, 16)...), 1, 2, 'h', 'i', 2, 'b', 'o', 0))
	f.Add(append(append([]byte{1}, make([]byte, 16)...), 0, 1, 1))
	f.Add(append(append([]byte{0, 1}, make([]byte, 16)...), append(append([]byte{7}, make([]byte, 32)...), 1, 2, 'h', 'i', 2, 'b', 'o', 0)...))
	f.Fuzz(func(t *testing.T, data []byte) {
		logs, err := readIntroduction(data)
		if err != nil && len(logs) > 0 {
			t.Errorf("%d logs beside %v", len(logs), err)
		}
		for _, l := range logs {
			// A part attaches to whatever it names, and its device's key isn't known.
			from := l.whole(staff)
			if l.after.Seq > 0 {
				from.After, from.Device = l.after, device
			}
			if run, err := entry.Verify(from, l.raws, l.points); err == nil && len(run.Entries) > 0 {
				t.Errorf("%d entries that nobody signed verify", len(run.Entries))
			}
		}
	})
}

// FuzzLinkKeys reads the message that brings link keys.
func FuzzLinkKeys(f *testing.F) {
	f.Add(encodeKeys([][32]byte{{1}, {2}}))
	f.Add([]byte{exchange.KindLinkKeys})
	f.Add([]byte{exchange.KindLinkKeys, 200, 1})
	f.Fuzz(func(t *testing.T, message []byte) {
		if len(message) == 0 {
			return // the exchange hands over what has a kind
		}
		message[0] = exchange.KindLinkKeys
		keys, err := decodeKeys(message)
		if err != nil && len(keys) > 0 {
			t.Errorf("%d keys beside %v", len(keys), err)
		}
		if err == nil && len(keys) != (len(message)-1)/32 {
			t.Errorf("%d keys in %d bytes", len(keys), len(message))
		}
		if again, err := decodeKeys(encodeKeys(keys)); err != nil || !slices.Equal(again, keys) {
			t.Errorf("%x is written as %x", message, encodeKeys(keys))
		}
	})
}

// FuzzSummary reads a stored summary, whatever has become of it. Its whole
// numbers are those that expressions expect.
func FuzzSummary(f *testing.F) {
	f.Add([]byte(`{"Vars":{"class_year":2027,"arm":33.25,"grades":{"hand_use":7}},"Texts":{"name":"Abel Quill"}}`))
	f.Add([]byte(`{"Vars":{"class_year":1e400}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := decodeSummary(data)
		if err != nil {
			return
		}
		for name, v := range s.Vars {
			if n, left := v.(json.Number); left {
				t.Errorf("%s is still text: %s", name, n)
			}
		}
	})
}

// FuzzIdentity reads the file of this laptop's secrets: a damaged one is refused
// with what to do, and never replaced.
func FuzzIdentity(f *testing.F) {
	f.Add([]byte(`{"device_key":"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA="}`))
	f.Add([]byte(`{"device_key":"AAAA","link_keys":["AA=="],"staff":"x"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		state := t.TempDir()
		path := filepath.Join(state, identityFile)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		id, err := loadIdentity(state, nil)
		if err == nil {
			id.key().Public()
			id.linkKeys()
		}
		if kept, err := os.ReadFile(path); err != nil || !bytes.Equal(kept, data) {
			t.Errorf("the file was changed: %v", err)
		}
	})
}

package node

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// A node continues its logs only where it can prove that nothing happened in
// between. At a clean close it leaves one token in the database and the same
// one in the state folder; at the next start it takes both. After a crash, in
// a restored copy or a moved folder they don't match, and the next write opens
// a new log: a laptop never writes a second entry at a number it has used.
type token struct {
	Once string   `json:"once"`
	Tips []string `json:"tips"`
}

const (
	tokenFile = "continue.json"
	tokenMeta = storage.Secret + "continue"
)

// Inside is what a laptop's token needs of its database.
type Inside interface {
	Meta(ctx context.Context, key string) ([]byte, error)
	SetMeta(ctx context.Context, key string, value []byte) error
	Branches() []storage.BranchInfo
	Source(log entry.LogID, after entry.Point) (entry.Source, bool)
}

// Outside keeps the other half where no copy of the database has it.
type Outside interface {
	// Leave stores the half, durably, in the place of any other.
	Leave(half []byte) error
	// Take removes the half, durably, and returns it; nil if there is none.
	Take() ([]byte, error)
}

// LeaveToken is the last write of a clean close.
func LeaveToken(ctx context.Context, inside Inside, outside Outside, own *OwnLogs) error {
	once := make([]byte, 16)
	if _, err := io.ReadFull(own.Random, once); err != nil {
		return fmt.Errorf("read randomness: %w", err)
	}
	t := token{Once: hex.EncodeToString(once)}
	for _, tip := range own.Tips() {
		t.Tips = append(t.Tips, tip.String())
	}
	data, err := json.Marshal(t)
	if err != nil {
		return err
	}
	if err := inside.SetMeta(ctx, tokenMeta, data); err != nil {
		return err
	}
	return outside.Leave(data)
}

// TakeToken resumes the logs that the token names, and uses it up. Where that
// fails nothing is continued: it costs a new log, no more.
func TakeToken(ctx context.Context, inside Inside, outside Outside, own *OwnLogs) error {
	t, err := useToken(ctx, inside, outside)
	if err != nil {
		return err
	}
	for _, text := range t.Tips {
		if tip, err := entry.ParseID(text); err == nil {
			own.resumeAt(inside, tip)
		}
	}
	return nil
}

// useToken takes both halves away and returns what they say if they are one. The
// one outside goes first: if the process dies in between, nothing is continued.
func useToken(ctx context.Context, in Inside, out Outside) (t token, err error) {
	outside, err := out.Take()
	if err != nil {
		return t, err
	}
	inside, err := in.Meta(ctx, tokenMeta)
	if err != nil || len(inside) == 0 {
		return t, err
	}
	if err := in.SetMeta(ctx, tokenMeta, nil); err != nil {
		return t, err
	}
	if !bytes.Equal(inside, outside) || json.Unmarshal(inside, &t) != nil {
		return token{}, nil
	}
	return t, nil
}

// resumeAt continues a log if the token's tip is still the end of its only
// branch, and the key is this laptop's.
func (a *OwnLogs) resumeAt(inside Inside, tip entry.ID) {
	var held []storage.BranchInfo
	for _, b := range inside.Branches() {
		if b.Log == tip.Log {
			held = append(held, b)
		}
	}
	if len(held) != 1 || held[0].Tip.ID(tip.Log) != tip || !a.Key.Public().(ed25519.PublicKey).Equal(held[0].Key) {
		return
	}
	if src, ok := inside.Source(tip.Log, held[0].Tip); ok {
		a.Resume(held[0].Control, held[0].Standing.Certificate.Encode(), src)
	}
}

// tokenPath is the half in the state folder. Both halves may have been put back
// from one copy of both folders, so that they fit; but a copied database is
// another file. Which file it was is told beside the half, once the database is
// closed.
type tokenPath struct {
	path, database string
	// found is the database as it lay there before it was opened.
	found string
	left  []byte
}

type outsideHalf struct {
	Half     []byte `json:"half"`
	Database string `json:"database"`
}

func (p *tokenPath) Leave(half []byte) error {
	p.left = half
	return nil
}

// write is called when the database is closed.
func (p *tokenPath) write() error {
	if p.left == nil {
		return nil
	}
	database, err := footprint(p.database)
	if err != nil {
		return fmt.Errorf("look at %s: %w", p.database, err)
	}
	data, err := json.Marshal(outsideHalf{p.left, database})
	if err != nil {
		return err
	}
	return WriteSecret(p.path, data)
}

func (p *tokenPath) Take() ([]byte, error) {
	data, err := os.ReadFile(p.path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("read %s: %w", p.path, err)
	}
	if err := os.Remove(p.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("use up %s: %w", p.path, err)
	}
	if err := syncFolder(filepath.Dir(p.path)); err != nil {
		return nil, err
	}
	var half outsideHalf
	if json.Unmarshal(data, &half) != nil || half.Database != p.found {
		return nil, nil // of another file: nothing is continued
	}
	return half.Half, nil
}

func (n *Node) tokenOutside() *tokenPath {
	p := &tokenPath{path: filepath.Join(n.cfg.State, tokenFile), database: filepath.Join(n.cfg.Data, databaseFile)}
	if found, err := footprint(p.database); err == nil {
		p.found = found
	}
	return p
}

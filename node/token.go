package node

import (
	"bytes"
	"context"
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

// leaveToken is the last write of a clean close.
func (n *Node) leaveToken(ctx context.Context) error {
	once := make([]byte, 16)
	if _, err := io.ReadFull(n.cfg.Random, once); err != nil {
		return fmt.Errorf("read randomness: %w", err)
	}
	t := token{Once: hex.EncodeToString(once)}
	for _, tip := range n.own.Tips() {
		t.Tips = append(t.Tips, tip.String())
	}
	data, err := json.Marshal(t)
	if err != nil {
		return err
	}
	if err := n.store.SetMeta(ctx, tokenMeta, data); err != nil {
		return err
	}
	return writeSecret(filepath.Join(n.cfg.State, tokenFile), data)
}

// takeToken resumes the logs that the token names, and uses it up. Where that
// fails nothing is continued: it costs a new log, no more.
func (n *Node) takeToken(ctx context.Context) {
	t, err := n.useToken(ctx)
	if err != nil {
		n.cfg.Log.Warn("own logs aren't continued", "cause", err)
		return
	}
	for _, text := range t.Tips {
		if tip, err := entry.ParseID(text); err == nil {
			n.resume(tip)
		}
	}
}

// useToken takes both halves away and returns what they say if they are one. The
// file goes first: if the process dies in between, nothing is continued.
func (n *Node) useToken(ctx context.Context) (t token, err error) {
	path := filepath.Join(n.cfg.State, tokenFile)
	outside, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return t, fmt.Errorf("read %s: %w", path, err)
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return t, fmt.Errorf("use up %s: %w", path, err)
	}
	if err := syncFolder(n.cfg.State); err != nil {
		return t, err
	}
	inside, err := n.store.Meta(ctx, tokenMeta)
	if err != nil || len(inside) == 0 {
		return t, err
	}
	if err := n.store.SetMeta(ctx, tokenMeta, nil); err != nil {
		return t, err
	}
	if !bytes.Equal(inside, outside) || json.Unmarshal(inside, &t) != nil {
		return token{}, nil
	}
	return t, nil
}

// resume continues a log if the token's tip is still the end of its only
// branch, and the key is this laptop's.
func (n *Node) resume(tip entry.ID) {
	var own []storage.BranchInfo
	for _, b := range n.store.Branches() {
		if b.Log == tip.Log {
			own = append(own, b)
		}
	}
	if len(own) != 1 || own[0].Tip.ID(tip.Log) != tip || !bytes.Equal(own[0].Key, n.id().public()) {
		return
	}
	if src, ok := n.store.Source(tip.Log, own[0].Tip); ok {
		n.own.Resume(own[0].Control, own[0].Standing.Certificate.Encode(), src)
	}
}

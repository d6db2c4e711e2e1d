package rpc

import (
	"context"
	"iter"

	"plumbline/node"
	"plumbline/sync/entry"
)

// Node is what the handlers call. Its methods may be called from several
// goroutines at once. What Write, Settle, File, Retire, Keep, Same and Import
// have done is durable when they return.
type Node interface {
	Get(ctx context.Context, ref string, hidden bool, since string) (node.Detail, error)
	List(ctx context.Context, query node.ListQuery) (node.Listing, error)
	History(ctx context.Context, ref string) ([]node.Revision, error)
	Conflicts(ctx context.Context, ref string) ([]node.Conflict, error)
	Doubles(ctx context.Context) ([]node.Double, error)
	SetAside(ctx context.Context, limit int) (node.Aside, error)
	// Watch yields where things stand, then each change, until ctx ends. A
	// slow reader gets several changes merged into one.
	Watch(ctx context.Context) iter.Seq[node.Change]

	Write(ctx context.Context, writes []node.Write) ([]entry.RecordID, error)
	Check(ctx context.Context, write node.Write) ([]node.Checked, error)
	Settle(ctx context.Context, settlement node.Settlement) (node.Record, error)
	File(ctx context.Context, ref string, seen ...string) (node.Record, error)
	Retire(ctx context.Context, ref, asOf string) (node.Retired, error)
	Keep(ctx context.Context, ref, asOf string) (node.Record, error)
	Same(ctx context.Context, first, second string, apart bool, seen ...string) (node.Sameness, error)
	Outline(request node.ImportRequest) (node.TableOutline, error)
	Import(ctx context.Context, request node.ImportRequest) (node.ImportReport, error)
	Export(ctx context.Context, request node.ExportRequest) (table []byte, rows int, err error)

	Found(ctx context.Context, staff, person, device string) (root string, id entry.StaffID, err error)
	// Invite and Join report each step and return when the pairing has ended.
	// They end early when ctx ends or step returns an error.
	Invite(ctx context.Context, person, title string, director bool, step func(node.PairingStep) error) error
	Join(ctx context.Context, request node.JoinRequest, step func(node.PairingStep) error) error
	Alone(ctx context.Context) (node.Alone, error)
	// InviteByRoot and Recover are the two sides of a recovery.
	InviteByRoot(ctx context.Context, step func(node.PairingStep) error) error
	Recover(ctx context.Context, recovery node.Recovery, step func(node.PairingStep) error) error
	// Root overwrites the text.
	Root(pairing string, text []byte) error
	Answer(pairing, code string) error
	Promote(ctx context.Context, who string) ([]entry.DeviceID, error)
	Revoke(ctx context.Context, who string, demote bool) ([]entry.DeviceID, error)
	Accept(ctx context.Context, who, asOf string, rights bool) (node.Acceptance, error)
	Acceptable(ctx context.Context, who, asOf string, rights bool) (node.Acceptance, error)
	Roster(ctx context.Context) ([]node.Member, error)

	Status(ctx context.Context) (node.Status, error)
	// Verify calls progress from one goroutine, and makes anew what it can.
	Verify(ctx context.Context, progress func(done, total uint64)) (node.Verified, error)
	Backup(ctx context.Context, path string) (bytes int64, entries uint64, err error)
	Connect(ctx context.Context, address string) error
	Acknowledge(ctx context.Context) error
}

package node

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// A laptop that wrote alone moves into a staff with its records (ledger rule 33).
// The staff's ledger, with all that goes along already in it, and a backup of the
// one from before are made in a folder of a passing name, while nothing more is
// saved. Then the keys' file is replaced: before that nothing has happened, after
// it this laptop is a member, and what is left to do is to rename. Whoever opens
// the folder next does that if this process doesn't live to do it.
//
// The name says whose staff it is and which laptop joins: what its keys don't tell
// of as a staff that it belongs to hasn't come to be.
const passingMove = ".joining-"

func moveFolder(data string, staff entry.StaffID, by entry.DeviceID) string {
	return filepath.Join(data, passingMove+staff.String()+madeBy(by))
}

func madeBy(device entry.DeviceID) string { return "-" + device.String() }

const keptFile = "alone.db"

var errMoving = refuse(ErrInUse, "this laptop is joining a staff, and what it holds is being taken along: this was not saved. Save it again in a moment")

func saves(e Event) bool {
	_, is := e.(Save)
	return is
}

// Moved is closed once this laptop has moved into a staff with what it wrote
// alone: close the node then, and open it again.
func (n *Node) Moved() <-chan struct{} { return n.moved }

func (n *Node) movedAway() bool {
	n.secrets.Lock()
	defer n.secrets.Unlock()
	return n.hasMoved
}

// move is a laptop's way into a staff, with what was written alone.
type move struct {
	welcome
	root   ed25519.PublicKey
	cert   entry.Certificate
	device string         // the laptop's name
	was    entry.PersonID // who wrote alone
}

func (m *move) staff() entry.StaffID { return entry.StaffOf(m.root) }

// move makes this laptop a member and takes along what its person wrote alone. It
// is called with entering held.
func (n *Node) move(ctx context.Context, m move, done *PairingStep) error {
	if n.movedAway() {
		return errMoving
	}
	n.leave(true)
	var err error
	if m.was, err = n.writtenBy(); err == nil { // nobody is let in any more
		err = n.stage(ctx, m, done)
	}
	if err == nil {
		err = n.moveKeys(m)
	}
	if err != nil {
		n.leave(false)
		// Or the next attempt removes it, or the next start.
		_ = os.RemoveAll(moveFolder(n.cfg.Data, m.staff(), entry.DeviceOf(n.public())))
		return err
	}
	return nil
}

// leave lets nothing more be saved, or again.
func (n *Node) leave(leaving bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.leaving = leaving
}

// moveKeys is the moment from which this laptop is a member.
func (n *Node) moveKeys(m move) error {
	n.secrets.Lock()
	defer n.secrets.Unlock()
	held := n.id()
	id := identity{
		Device: held.Device, Staff: m.staff().String(), Root: m.root, IDKey: m.IDKey, LinkKeys: m.LinkKeys, FormerIDKey: held.IDKey,
	}
	if err := id.save(n.cfg.State); err != nil && !n.keysAre(m.staff()) {
		return err
	}
	n.hasMoved = true
	return nil
}

// keysAre reports whether the keys' file is a staff's, though saving it ended with
// an error: then there is no way back.
func (n *Node) keysAre(staff entry.StaffID) bool {
	id, err := loadIdentity(n.cfg.State, n.cfg.Random)
	return err == nil && id.Staff == staff.String()
}

// stage makes the folder from which SettleMove goes on.
func (n *Node) stage(ctx context.Context, m move, done *PairingStep) error {
	r := n.reader(ctx)
	if m.device == "" && n.Founded() {
		m.device = r.deviceName(m.was, entry.DeviceOf(n.public()))
	}
	named, err := deviceDraft(m.cert.Person, entry.DeviceOf(m.cert.Device), m.device)
	if err != nil {
		return err
	}
	t := takenAlong{Staff: r.shownText(staffRecord(n.store.Staff()), "name"), Person: r.personName(m.was)}
	return failure(Moving{
		Data: n.cfg.Data, From: n.store, Was: m.was, Key: n.pair, Random: n.cfg.Random, Now: n.cfg.Now(),
		Staff: m.staff(), Certificate: m.cert, Control: m.Control, First: named,
		Brought: func(to *storage.Store) {
			runs, err := readWritten(m.Written, to.Staff())
			if err == nil {
				_, err = to.Append(ctx, runs...)
			}
			if err != nil {
				n.cfg.Log.Warn("the inviter's entries come over with the first link", "cause", err)
			}
		},
		Note: func(to *storage.Store, goes func(entry.RecordID) bool) error {
			if t.Taken, t.Left, err = amounts(ctx, n.store, goes); err != nil {
				return err
			}
			done.Alone = &Alone{Staff: t.Staff, Person: t.Person, Taken: t.Taken, Left: t.Left, Kept: keptFolder(n.cfg.Data)}
			if r.err != nil {
				return r.err
			}
			return m.note(ctx, to, t)
		},
	}.Stage(ctx))
}

// note keeps with the staff's ledger what isn't an entry.
func (m *move) note(ctx context.Context, to *storage.Store, t takenAlong) error {
	for key, value := range map[string]any{
		aloneMeta: t, calledMeta: called{Staff: m.welcome.Staff, Person: m.welcome.Person}, addressesMeta: placesAt(m.Addresses),
		unmetMeta: Joined,
	} {
		data, err := json.Marshal(value)
		if err != nil {
			return err
		}
		if err := to.SetMeta(ctx, key, data); err != nil {
			return err
		}
	}
	return nil
}

func placesAt(addresses []string) []place {
	places := []place{}
	for _, a := range addresses {
		places = append(places, place{Address: a})
	}
	return places
}

func (n *Node) settleIntoStaff() error {
	id, err := loadIdentity(n.cfg.State, n.cfg.Random)
	if err != nil {
		return err
	}
	staff, err := id.staff()
	if err != nil {
		return err
	}
	return SettleMove(n.cfg.Data, staff, entry.DeviceOf(n.public()))
}

// SettleMove ends what this laptop's move into the staff has begun: the ledger from
// before goes where it is kept, the staff's takes its place. The folder is locked.
func SettleMove(data string, staff entry.StaffID, by entry.DeviceID) error {
	folder := moveFolder(data, staff, by)
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	err := takePlace(data, folder)
	if err == nil {
		err = os.RemoveAll(folder)
	}
	if err != nil {
		return fmt.Errorf("end the joining of a staff that was cut off: %w", err)
	}
	return nil
}

// SweepMoves removes what a move has left that didn't come to be, once SettleMove has
// ended one that did. Moves of other laptops are only removed where the ledger here
// is known to be that of the keys: with other keys, that of a move that did come to
// be may be all that there is of it.
func SweepMoves(data string, ledgerIsOurs bool, by entry.DeviceID) error {
	entries, err := os.ReadDir(data)
	if err != nil {
		return fmt.Errorf("look for what was left half moved: %w", err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), passingMove) || !ledgerIsOurs && !strings.HasSuffix(e.Name(), madeBy(by)) {
			continue
		}
		if err := os.RemoveAll(filepath.Join(data, e.Name())); err != nil {
			return fmt.Errorf("remove what was left half moved: %w", err)
		}
	}
	return nil
}

// takePlace may be cut off after each step and begun anew.
func takePlace(data, folder string) error {
	if err := keepWhole(data, filepath.Join(folder, keptFile)); err != nil {
		return err
	}
	target, ledger := filepath.Join(data, databaseFile), filepath.Join(folder, databaseFile)
	if _, err := os.Stat(ledger); errors.Is(err, fs.ErrNotExist) {
		return nil // it has its place already
	}
	// What SQLite keeps beside the old database would be taken for part of the new
	// one. All that it says is in what is kept.
	for _, end := range beside[1:] {
		if err := os.Remove(target + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := os.Rename(ledger, target); err != nil {
		return err
	}
	return syncFolder(data)
}

func keepWhole(data, backup string) error {
	if _, err := os.Stat(backup); errors.Is(err, fs.ErrNotExist) {
		return nil // it has its place already
	}
	folder := keptFolder(data)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	if err := os.Rename(backup, filepath.Join(folder, databaseFile)); err != nil {
		return err
	}
	return errors.Join(syncFolder(folder), syncFolder(data))
}

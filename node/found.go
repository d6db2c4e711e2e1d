package node

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"io"
	"os"
	"slices"

	"plumbline/node/record"
	"plumbline/node/rootkey"
	"plumbline/sync/entry"
)

// Found makes a staff of one. It returns the root's text for paper: the root
// signs the founder's grant here and is then nowhere but there.
func (n *Node) Found(ctx context.Context, staffName, personName, deviceName string) (root string, staff entry.StaffID, err error) {
	n.entering.Lock()
	defer n.entering.Unlock()
	if n.Founded() || len(n.store.Branches()) > 0 {
		return "", staff, refuse(ErrHasStaff, "the data folder %s belongs to a staff already: found another one in another folder, with --data and --state", n.cfg.Data)
	}
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(n.cfg.Random, seed); err != nil {
		return "", staff, fmt.Errorf("read randomness: %w", err)
	}
	defer clear(seed)
	f, err := n.newStaff(seed, staffName, personName, deviceName)
	if err != nil {
		return "", staff, err
	}
	if err := n.establish(ctx, f); err != nil {
		return "", staff, err
	}
	if n.cfg.Links != nil {
		if err := n.startLinks(); err != nil {
			// The staff is founded and its root must be shown: it is nowhere else.
			n.cfg.Log.Warn("no links until the next start", "cause", err)
		}
	}
	return rootkey.Text(seed), f.staff, nil
}

// founding is all that makes a staff.
type founding struct {
	staff entry.StaffID
	id    identity
	grant entry.Run // the root's log
	// first is what the founder writes: who everybody is, for people to read.
	first Written
}

func (n *Node) newStaff(seed []byte, staffName, personName, deviceName string) (f founding, err error) {
	root := ed25519.NewKeyFromSeed(seed)
	defer clear(root)
	f.id = identity{Device: n.id().Device, Root: root.Public().(ed25519.PublicKey)}
	f.id.IDKey, f.id.LinkKeys = make([]byte, keySize), [][]byte{make([]byte, keySize)}
	for _, secret := range [][]byte{f.id.IDKey, f.id.LinkKeys[0]} {
		if _, err := io.ReadFull(n.cfg.Random, secret); err != nil {
			return f, fmt.Errorf("read randomness: %w", err)
		}
	}
	f.staff = entry.StaffOf(f.id.Root)
	f.id.Staff = f.staff.String()
	cert, err := n.newCertificate(entry.Certificate{Role: entry.RoleDirector, Device: n.public()})
	if err != nil {
		return f, err
	}
	f.grant, err = n.rootRun(root, f.staff, grant(cert, nil), entry.Body{
		Kind: entry.KindLinkKey, LinkKey: &entry.LinkKey{Hash: keyHash([32]byte(f.id.LinkKeys[0]))},
	})
	if err != nil {
		return f, err
	}
	drafts, err := whoIsWho(f.staff, cert, staffName, personName, deviceName)
	if err != nil {
		return f, err
	}
	own := OwnLogs{Staff: f.staff, Key: n.pair, Random: n.cfg.Random, Certificate: func() ([]byte, error) { return cert.Encode(), nil }}
	f.first, err = own.Write(drafts, f.grant.Entries[len(f.grant.Entries)-1].Header.Lamport, n.cfg.Now())
	return f, err
}

// establish makes this laptop the staff's. The keys are on disk under a
// passing name before anything counts, all entries come in one transaction, and
// then the keys get their name: whatever fails before that can be done again, after
// the next start at the latest. By the keys under that name it knows that nobody was
// told of this staff, so they stay.
func (n *Node) establish(ctx context.Context, f founding) error {
	keys, err := f.id.prepare(n.cfg.State)
	if err != nil {
		return err
	}
	if err := n.store.SetStaff(ctx, f.staff); err != nil {
		return failure(err)
	}
	if s := n.step(Introduced{Runs: append([]entry.Run{f.grant}, f.first.Runs...)}); s.Err != nil {
		return failure(s.Err)
	}
	if err := keys.commit(); err != nil && !n.keysAre(f.staff) {
		return fmt.Errorf("%w; no staff was founded: start plumbline again, then found it", err)
	}
	n.become(f.id, f.staff)
	n.mu.Lock()
	defer n.mu.Unlock()
	n.own.Commit(f.first)
	return nil
}

// become makes the identity the one that this process works under.
func (n *Node) become(id identity, staff entry.StaffID) {
	n.keys.Store(&id)
	n.mu.Lock()
	defer n.mu.Unlock()
	n.own.Staff = staff
}

// newCertificate fills in what is random; a zero person becomes a new one.
func (n *Node) newCertificate(c entry.Certificate) (entry.Certificate, error) {
	fill := [][]byte{c.Opaque[:]}
	if c.Person == (entry.PersonID{}) {
		fill = append(fill, c.Person[:])
	}
	for _, b := range fill {
		if _, err := io.ReadFull(n.cfg.Random, b); err != nil {
			return c, fmt.Errorf("read randomness: %w", err)
		}
	}
	return c, nil
}

// rootRun writes a log of the root.
func (n *Node) rootRun(root ed25519.PrivateKey, staff entry.StaffID, bodies ...entry.Body) (entry.Run, error) {
	w := entry.Writer{Staff: staff, Key: root, Random: n.cfg.Random}
	wall := n.cfg.Now().UnixMilli()
	first, err := w.Open(true, nil, 0, wall)
	if err != nil {
		return entry.Run{}, err
	}
	run := entry.Run{Log: w.Log, After: entry.Point{Hash: entry.Origin(staff)}, Entries: []entry.Entry{first}}
	for _, body := range bodies {
		e, err := w.Append("", body, 0, wall)
		if err != nil {
			return entry.Run{}, err
		}
		run.Entries = append(run.Entries, e)
	}
	run.Points = []entry.SignedPoint{w.Sign()}
	return run, nil
}

// whoIsWho describes the staff, its founder and their laptop.
func whoIsWho(staff entry.StaffID, cert entry.Certificate, staffName, personName, deviceName string) ([]Draft, error) {
	described, err := typed(record.Staff, staffRecord(staff), map[string]string{"name": staffName})
	if err != nil {
		return nil, err
	}
	person, err := personDraft(cert.Person, personName, "director")
	if err != nil {
		return nil, err
	}
	device, err := deviceDraft(cert.Person, entry.DeviceOf(cert.Device), deviceName)
	return []Draft{described, person, device}, err
}

// staffRecord, personRecord and deviceRecord have ids that follow from what
// they describe, so that each has one record.
func staffRecord(id entry.StaffID) entry.RecordID {
	return entry.NewRecordID(entry.Directors, record.Staff, entry.PersonID{}, id)
}

func personRecord(id entry.PersonID) entry.RecordID {
	return entry.NewRecordID(entry.Directors, record.Person, entry.PersonID{}, id)
}

func deviceRecord(person entry.PersonID, id entry.DeviceID) entry.RecordID {
	return entry.NewRecordID(entry.Owned, record.Device, person, id)
}

// personDraft describes a person.
func personDraft(id entry.PersonID, name, title string) (Draft, error) {
	return typed(record.Person, personRecord(id), map[string]string{"name": name, "title": title})
}

// deviceDraft names a laptop, as its person calls it.
func deviceDraft(person entry.PersonID, device entry.DeviceID, name string) (Draft, error) {
	if name == "" {
		name = hostName()
	}
	return typed(record.Device, deviceRecord(person, device), map[string]string{
		"name": name, "person": personRecord(person).String(),
	})
}

func hostName() string {
	if name, err := os.Hostname(); err == nil && name != "" {
		return name
	}
	return "laptop"
}

// typed drafts the first entry of a record from what a person would type.
func typed(kind entry.Kind, id entry.RecordID, fields map[string]string) (Draft, error) {
	body := entry.Body{Kind: entry.KindChanges}
	for _, name := range sortedKeys(fields) {
		if fields[name] == "" && !slices.Contains(required[kind], name) {
			continue
		}
		reg := record.Must(kind, name)
		v, err := reg.Parse(fields[name])
		if err != nil {
			return Draft{}, refuse(ErrInvalid, "%v", err)
		}
		body.Changes = append(body.Changes, entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes})
	}
	return Draft{Record: id, Body: body}, nil
}

package node

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"io"
	"os"

	"plumbline/node/record"
	"plumbline/node/rootkey"
	"plumbline/sync/entry"
)

// Found makes a staff of one. It returns the root's text for paper: the root
// signs the founder's grant here and is then nowhere but there.
func (n *Node) Found(ctx context.Context, staffName, personName, deviceName string) (root string, staff entry.StaffID, err error) {
	if n.Founded() || n.store.Staff() != (entry.StaffID{}) {
		return "", staff, refuse(ErrHasStaff, "the data folder %s belongs to a staff already: found another one in another folder, with --data and --state", n.cfg.Data)
	}
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(n.cfg.Random, seed); err != nil {
		return "", staff, fmt.Errorf("read randomness: %w", err)
	}
	defer clear(seed)
	rootKey := ed25519.NewKeyFromSeed(seed)
	defer clear(rootKey)
	id := identity{Device: n.id().Device, Root: rootKey.Public().(ed25519.PublicKey)}
	id.IDKey, id.LinkKeys = make([]byte, 32), [][]byte{make([]byte, 32)}
	for _, secret := range [][]byte{id.IDKey, id.LinkKeys[0]} {
		if _, err := io.ReadFull(n.cfg.Random, secret); err != nil {
			return "", staff, fmt.Errorf("read randomness: %w", err)
		}
	}
	staff = entry.StaffOf(id.Root)
	id.Staff = staff.String()
	cert, err := n.newCertificate(entry.Certificate{Role: entry.RoleDirector, Device: n.id().public()})
	if err != nil {
		return "", staff, err
	}
	run, err := n.rootRun(rootKey, staff, entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: cert.Encode()}})
	if err != nil {
		return "", staff, err
	}
	if err := n.adopt(ctx, id); err != nil {
		return "", staff, err
	}
	if s := n.step(Introduced{Runs: []entry.Run{run}}); s.Err != nil {
		return "", staff, s.Err
	}
	if err := n.introduceSelf(staffName, personName, deviceName, cert); err != nil {
		return "", staff, err
	}
	if n.cfg.Links != nil {
		err = n.startLinks()
	}
	return rootkey.Text(seed), staff, err
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

// rootRun writes one entry in a log of the root.
func (n *Node) rootRun(root ed25519.PrivateKey, staff entry.StaffID, body entry.Body) (entry.Run, error) {
	w := entry.Writer{Staff: staff, Key: root, Random: n.cfg.Random}
	wall := n.cfg.Now().UnixMilli()
	first, err := w.Open(true, nil, 0, wall)
	if err != nil {
		return entry.Run{}, err
	}
	second, err := w.Append("", body, 0, wall)
	if err != nil {
		return entry.Run{}, err
	}
	return entry.Run{
		Log: w.Log, After: entry.Point{Hash: entry.Origin(staff)},
		Entries: []entry.Entry{first, second}, Points: []entry.SignedPoint{w.Sign()},
	}, nil
}

// adopt makes this laptop one of a staff: first the database, then the keys,
// so that a crash in between leaves a laptop that can be founded or joined
// again after its folder is removed, never keys without their ledger.
func (n *Node) adopt(ctx context.Context, id identity) error {
	staff, err := id.staff()
	if err != nil {
		return err
	}
	if n.store.Staff() != staff {
		if err := n.store.SetStaff(ctx, staff); err != nil {
			return err
		}
	}
	if err := id.save(n.cfg.State); err != nil {
		return err
	}
	n.keys.Store(&id)
	n.mu.Lock()
	defer n.mu.Unlock()
	n.own.Staff = staff
	return nil
}

// introduceSelf writes who the founder is, for people to read.
func (n *Node) introduceSelf(staffName, personName, deviceName string, cert entry.Certificate) error {
	staff, err := typed(record.Staff, staffRecord(n.store.Staff()), map[string]string{"name": staffName})
	if err != nil {
		return err
	}
	person, err := personDraft(cert.Person, personName, "director")
	if err != nil {
		return err
	}
	device, err := deviceDraft(cert, deviceName)
	if err != nil {
		return err
	}
	return n.step(Save{Drafts: []Draft{staff, person, device}}).Err
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
func deviceDraft(cert entry.Certificate, name string) (Draft, error) {
	if name == "" {
		name = hostName()
	}
	return typed(record.Device, deviceRecord(cert.Person, entry.DeviceOf(cert.Device)), map[string]string{
		"name": name, "person": personRecord(cert.Person).String(),
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
		if fields[name] == "" {
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

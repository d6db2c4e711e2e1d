package node

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/mesh"
)

// JoinRequest says where a laptop joins.
type JoinRequest struct {
	Address, Word string
	Device        string // this laptop's name
	// TakeAlong lets a laptop that wrote alone join another staff, with what
	// [Node.Alone] tells of.
	TakeAlong bool
}

// Join joins the staff of the laptop that invites at an address. A laptop that
// has a staff can join only that one again, under a new grant, since one that was
// revoked may not even know it; or, if it wrote alone, another one, with what it
// wrote. Then [Node.Moved] is closed.
func (n *Node) Join(ctx context.Context, q JoinRequest, step func(PairingStep) error) error {
	if _, err := deviceDraft(entry.PersonID{}, entry.DeviceID{}, q.Device); err != nil {
		return err
	}
	was, err := n.takingAlong(q)
	if err != nil {
		return err
	}
	err = n.petition(ctx, q.Address, q.Word, step, joining{
		device: q.Device, takeAlong: q.TakeAlong,
		ask: func(_ context.Context, root ed25519.PublicKey, o offer, _ typing) (petition, error) {
			if o.Recovery {
				return petition{}, refuse(ErrPairing, "that laptop waits for somebody with the staff's root: plumbline recover joins it, or plumbline invite there invites as usual")
			}
			if q.TakeAlong || !n.isOthers(entry.StaffOf(root)) {
				return petition{Person: was}, nil
			}
			return petition{}, n.otherStaff()
		},
	})
	if n.movedAway() {
		n.tellMoved()
	}
	var refused *refusal
	if err != nil && n.Founded() && !q.TakeAlong && !errors.As(err, &refused) && !errors.Is(err, context.Canceled) {
		return refuse(ErrHasStaff, "this laptop belongs to a staff already, and can only join that one again: %v. To join another one name other folders, with --data and --state", err)
	}
	return pairingError(err)
}

// takingAlong returns whose records are taken along, if any are to be. Who wrote
// alone isn't let join without: the staff of one has nobody who could invite.
func (n *Node) takingAlong(q JoinRequest) (was entry.PersonID, err error) {
	if n.movedAway() {
		return was, errMoving
	}
	was, err = n.writtenBy()
	switch {
	case q.TakeAlong && !errors.Is(err, ErrNoStaff):
		return was, err
	case err == nil && n.Founded():
		return was, refuse(ErrHasStaff, "the records in %s were written alone, and go along into the staff that is joined: say that they are to be taken along", n.cfg.Data)
	}
	return entry.PersonID{}, nil
}

// isOthers reports whether a staff is another one than that of the ledger here.
func (n *Node) isOthers(staff entry.StaffID) bool {
	held := n.store.Staff()
	return len(n.store.Branches()) > 0 && held != staff || n.Founded() && n.id().Staff != staff.String()
}

func (n *Node) otherStaff() error {
	if _, err := n.writtenBy(); err != nil && errors.Is(err, ErrHasStaff) {
		return err
	}
	return refuse(ErrHasStaff, "the data folder %s belongs to another staff: join with other folders, named by --data and --state", n.cfg.Data)
}

// joining is what differs between ways to become a member.
type joining struct {
	device    string
	takeAlong bool
	// ask answers the inviter's offer.
	ask func(ctx context.Context, root ed25519.PublicKey, o offer, t typing) (petition, error)
	// carry, if set, goes on over the connection once this laptop is a member.
	carry func(ctx context.Context, c *mesh.Carrier, done *PairingStep) error
}

// typing shows steps of a pairing and brings what is typed.
type typing struct {
	pairing string
	step    func(PairingStep) error
	keys    keyboard
}

// petition joins the laptop at an address.
func (n *Node) petition(ctx context.Context, address, word string, step func(PairingStep) error, j joining) error {
	pairing, keys, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	ctx, cancel := n.whileOpen(ctx)
	defer cancel()
	var done PairingStep
	cfg := mesh.JoinConfig{
		Address: address, Word: word, Device: n.pair, Random: n.cfg.Random,
		Prompt: &prompt{pairing: pairing, answers: keys.codes, step: step},
		Petition: func(ctx context.Context, root ed25519.PublicKey, data []byte) ([]byte, error) {
			var o offer
			if err := json.Unmarshal(data, &o); err != nil {
				return nil, fmt.Errorf("the offer can't be read: %w", err)
			}
			p, err := j.ask(ctx, root, o, typing{pairing, step, keys})
			if err != nil {
				return nil, err
			}
			return json.Marshal(p)
		},
		Check: func(root ed25519.PublicKey, payload []byte) error {
			var w welcome
			if err := json.Unmarshal(payload, &w); err != nil {
				return fmt.Errorf("the welcome can't be read: %w", err)
			}
			var err error
			done, err = n.enter(ctx, root, w, j)
			done.Step, done.Pairing = "done", pairing
			return err
		},
	}
	if j.carry != nil {
		cfg.Carry = func(ctx context.Context, c *mesh.Carrier) error { return j.carry(ctx, c, &done) }
	}
	if err := mesh.Join(ctx, cfg); err != nil {
		return err
	}
	return step(done)
}

// enter makes this laptop a member: it checks the staff's control logs and
// that they grant the certificate before it keeps anything for good. Once the
// keys are kept it is one, and nothing that fails after that is an error: the
// inviter must not hear that it was refused.
func (n *Node) enter(ctx context.Context, root ed25519.PublicKey, w welcome, j joining) (PairingStep, error) {
	n.entering.Lock()
	defer n.entering.Unlock()
	staff := entry.StaffOf(root)
	cert, err := n.welcomed(w)
	if err != nil {
		return PairingStep{}, err
	}
	done := PairingStep{Staff: staff, Person: cert.Person, Device: entry.DeviceOf(cert.Device), StaffName: w.Staff, PersonName: w.Person}
	switch {
	case n.isOthers(staff) && !j.takeAlong:
		return done, n.otherStaff()
	case n.isOthers(staff):
		return done, n.move(ctx, move{welcome: w, root: root, cert: cert, device: j.device}, &done)
	}
	if err := n.believe(ctx, staff, w); err != nil {
		return done, err
	}
	if err := n.keepEntry(staff, root, w); err != nil {
		return done, err
	}
	for _, a := range w.Addresses {
		n.rememberAddress(a)
	}
	if err := n.learnWritten(w.Written); err != nil {
		n.cfg.Log.Warn("the inviter's entries come over with the first link", "cause", err)
	}
	n.keepMeta(calledMeta, called{Staff: w.Staff, Person: w.Person})
	if j.carry == nil { // else all that the other one holds comes at once
		n.keepMeta(unmetMeta, Joined)
	}
	n.settleIn(cert, j.device)
	return done, nil
}

// keepEntry keeps the staff's keys, and with them that this laptop is a member.
func (n *Node) keepEntry(staff entry.StaffID, root ed25519.PublicKey, w welcome) error {
	n.secrets.Lock()
	defer n.secrets.Unlock()
	held := n.id()
	id := identity{
		Device: held.Device, Staff: staff.String(), Root: root, IDKey: w.IDKey, LinkKeys: addKeys(held.LinkKeys, w.LinkKeys),
		FormerIDKey: held.FormerIDKey,
	}
	if err := id.save(n.cfg.State); err != nil {
		return err
	}
	n.become(id, staff)
	return nil
}

// welcomed returns the certificate of a welcome that is this laptop's, and whole.
func (n *Node) welcomed(w welcome) (entry.Certificate, error) {
	cert, err := entry.DecodeCertificate(w.Certificate)
	if err != nil {
		return cert, err
	}
	if !cert.Device.Equal(n.public()) {
		return cert, errors.New("the welcome is for another laptop")
	}
	if len(w.IDKey) != keySize || len(w.LinkKeys) == 0 {
		return cert, errors.New("the welcome lacks the staff's keys")
	}
	return cert, nil
}

// believe stores what shows that the staff admits this laptop. A folder is a staff's
// for good, so it is tried elsewhere first: who isn't admitted may join another one.
func (n *Node) believe(ctx context.Context, staff entry.StaffID, w welcome) error {
	if err := n.tryOut(ctx, staff, w); err != nil {
		return err
	}
	if err := n.store.SetStaff(ctx, staff); err != nil {
		return failure(err)
	}
	if err := n.learn(w.Control); err != nil {
		return failure(err)
	}
	return admits(n.store, w.Certificate)
}

// tryOut stores it in a passing ledger.
func (n *Node) tryOut(ctx context.Context, staff entry.StaffID, w welcome) (err error) {
	folder, err := os.MkdirTemp(n.cfg.Data, passingMove+"*")
	if err != nil {
		return fmt.Errorf("make room for the staff's control logs: %w", err)
	}
	defer func() { _ = os.RemoveAll(folder) }() // or a later start does
	to, err := storage.Open(ctx, filepath.Join(folder, databaseFile), storage.Options{Staff: staff})
	if err != nil {
		return failure(err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	return failure(admitted(ctx, to, w.Control, w.Certificate))
}

// admits refuses a newcomer whom the control logs held don't admit.
func admits(by *storage.Store, certificate []byte) error {
	if _, admission := by.Verdict().Admission(certificate); admission != merge.Admitted {
		return errors.New("the staff's control logs don't admit this laptop")
	}
	return nil
}

// learnWritten stores what the inviter wrote, as far as it came with the
// welcome: who the people of the staff are, above all.
func (n *Node) learnWritten(data []byte) error {
	runs, err := readWritten(data, n.store.Staff())
	if err != nil || len(runs) == 0 {
		return err
	}
	return n.step(Introduced{Runs: runs}).Err
}

func readWritten(data []byte, staff entry.StaffID) ([]entry.Run, error) {
	logs, err := readIntroduction(data)
	if err != nil {
		return nil, err
	}
	var runs []entry.Run
	for _, l := range logs {
		run, err := entry.Verify(l.whole(staff), l.raws, l.points)
		if err != nil {
			return nil, err
		}
		runs = append(runs, run)
	}
	return runs, nil
}

// settleIn names this laptop, if it has no name yet, and opens it to its staff.
func (n *Node) settleIn(cert entry.Certificate, device string) {
	named, err := deviceDraft(cert.Person, entry.DeviceOf(cert.Device), device)
	if _, known := n.reader(n.ctx).row(named.Record); err == nil && !known {
		err = n.save(named)
	}
	if err != nil {
		n.cfg.Log.Warn("joined, but without a name for this laptop", "cause", err)
	}
	n.mu.Lock()
	linking := n.mesh != nil
	n.mu.Unlock()
	if n.cfg.Links == nil || linking {
		return
	}
	if err := n.startLinks(); err != nil {
		n.cfg.Log.Warn("joined, but no links until the next start", "cause", err)
	}
}

// called is how the staff and this laptop's person were called at joining. It
// stands in until their records have come over.
type called struct{ Staff, Person string }

const calledMeta = "called"

func (n *Node) calledAtJoining(ctx context.Context) called {
	var c called
	if data, err := n.store.Meta(ctx, calledMeta); err != nil || json.Unmarshal(data, &c) != nil {
		return called{}
	}
	return c
}

package node

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sync"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/mesh"
)

// welcome is what a newcomer gets: enough to be a member, and to check that
// the staff is the one promised.
type welcome struct {
	Certificate []byte   `json:"certificate"`
	Control     []byte   `json:"control"` // an introduction
	IDKey       []byte   `json:"id_key"`
	LinkKeys    [][]byte `json:"link_keys"`
	Addresses   []string `json:"addresses"`
	// The names by which the newcomer knows where it is before the first
	// entries come over.
	Staff  string `json:"staff"`
	Person string `json:"person"`
}

// pairings are the pairings under way, by a name that only their screens know.
type pairings struct {
	mu  sync.Mutex
	all map[string]chan string
}

func (p *pairings) open(random io.Reader) (string, chan string, error) {
	name := make([]byte, 16)
	if _, err := io.ReadFull(random, name); err != nil {
		return "", nil, fmt.Errorf("read randomness: %w", err)
	}
	answers := make(chan string, 1)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.all == nil {
		p.all = map[string]chan string{}
	}
	p.all[hex.EncodeToString(name)] = answers
	return hex.EncodeToString(name), answers, nil
}

func (p *pairings) close(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.all, name)
}

// Answer types the other screen's code into a pairing.
func (n *Node) Answer(pairing, code string) error {
	n.pairings.mu.Lock()
	defer n.pairings.mu.Unlock()
	answers, ok := n.pairings.all[pairing]
	if !ok {
		return refuse(ErrNotFound, "that pairing is over: start again with plumbline invite")
	}
	select {
	case answers <- code:
		return nil
	default:
		return refuse(ErrInvalid, "a code was typed already and is being checked")
	}
}

// prompt shows codes on, and takes them from, a screen that follows the steps.
type prompt struct {
	pairing string
	answers <-chan string
	step    func(PairingStep) error
	code    string
	asked   bool
}

func (p *prompt) Show(code string) error {
	p.code, p.asked = code, false
	return nil
}

// Ask tells the screen to ask: with the code to show, again after a wrong one.
func (p *prompt) Ask(ctx context.Context) (string, error) {
	select {
	case <-p.answers: // typed for an attempt that is over
	default:
	}
	if err := p.step(PairingStep{Step: "code", Pairing: p.pairing, Code: p.code}); err != nil {
		return "", err
	}
	select {
	case code := <-p.answers:
		return code, nil
	case <-ctx.Done():
		return "", context.Cause(ctx)
	}
}

// Invite waits for one laptop to join as the person. step is told what to show.
func (n *Node) Invite(ctx context.Context, person, title string, director bool, step func(PairingStep) error) error {
	own, err := n.director()
	if err != nil {
		return err
	}
	role := entry.RoleScout
	if director {
		role = entry.RoleDirector
	}
	// What can be refused now isn't left for when both codes are typed.
	if _, _, err := n.invited(ctx, person, title, role); err != nil {
		return err
	}
	pairing, answers, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	ctx, cancel := n.whileOpen(ctx)
	defer cancel()
	var joined entry.Certificate
	err = mesh.Invite(ctx, mesh.InviteConfig{
		Root: n.id().Root, Device: n.id().key(), Host: n.linkHost(), Random: n.cfg.Random,
		Prompt: &prompt{pairing: pairing, answers: answers, step: step},
		Announce: func(i mesh.Invitation) {
			s := PairingStep{Step: "waiting", Pairing: pairing, Word: i.Word}
			for _, a := range i.Addresses {
				s.Addresses = append(s.Addresses, a.String())
			}
			// A screen that is gone shows in the next step.
			_ = step(s)
		},
		Welcome: func(device ed25519.PublicKey) ([]byte, error) {
			var err error
			joined, err = n.admitNewcomer(ctx, own, person, title, role, device)
			if err != nil {
				return nil, err
			}
			return n.welcome(ctx, joined)
		},
	})
	if err != nil {
		return pairingError(err)
	}
	return step(PairingStep{Step: "done", Pairing: pairing, Device: entry.DeviceOf(joined.Device), Person: joined.Person, PersonName: n.reader(ctx).personName(joined.Person)})
}

// pairingError keeps what was refused in words, and gives the rest a reason.
func pairingError(err error) error {
	var r *refusal
	if errors.As(err, &r) || errors.Is(err, context.Canceled) {
		return err
	}
	return refuse(ErrPairing, "pairing failed: %v", err)
}

func (n *Node) linkHost() string {
	if n.cfg.Links == nil {
		return ""
	}
	return n.cfg.Links.Host
}

// whileOpen ends a call with the node.
func (n *Node) whileOpen(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, cancel := context.WithCancel(ctx)
	stop := context.AfterFunc(n.ctx, cancel)
	return ctx, func() { stop(); cancel() }
}

// invited finds the person who is to join, or drafts the record of a new one.
func (n *Node) invited(ctx context.Context, name, title string, role entry.Role) (entry.PersonID, []Draft, error) {
	id, known, err := n.personNamed(ctx, name)
	if err != nil || known {
		return id, nil, err
	}
	if _, err := io.ReadFull(n.cfg.Random, id[:]); err != nil {
		return id, nil, fmt.Errorf("read randomness: %w", err)
	}
	if title == "" {
		title = map[entry.Role]string{entry.RoleDirector: "director", entry.RoleScout: "area_scout"}[role]
	}
	d, err := personDraft(id, name, title)
	return id, []Draft{d}, err
}

// admitNewcomer grants a certificate and writes who it is for. The laptop
// names itself once it is a member.
func (n *Node) admitNewcomer(ctx context.Context, own entry.Certificate, person, title string, role entry.Role, device ed25519.PublicKey) (entry.Certificate, error) {
	id, described, err := n.invited(ctx, person, title, role)
	if err != nil {
		return entry.Certificate{}, err
	}
	cert, err := n.newCertificate(grantedBy(own, entry.Certificate{Person: id, Role: role, Device: device}))
	if err != nil {
		return entry.Certificate{}, err
	}
	granted := Draft{Body: grant(cert, cutsOf(n.store.Verdict(), entry.DeviceOf(device)))}
	return cert, n.save(append(described, granted)...)
}

// save writes drafts that no person typed.
func (n *Node) save(drafts ...Draft) error { return failure(n.step(Save{Drafts: drafts}).Err) }

func (n *Node) welcome(ctx context.Context, cert entry.Certificate) ([]byte, error) {
	control, err := n.controlLogs()
	if err != nil {
		return nil, err
	}
	id := n.id()
	w := welcome{Certificate: cert.Encode(), Control: control, IDKey: id.IDKey, LinkKeys: id.LinkKeys}
	r := n.reader(ctx)
	w.Staff, w.Person = r.shownText(staffRecord(n.store.Staff()), "name"), r.personName(cert.Person)
	n.mu.Lock()
	m := n.mesh
	n.mu.Unlock()
	if m != nil {
		for _, a := range m.Addresses() {
			w.Addresses = append(w.Addresses, a.String())
		}
	}
	return json.Marshal(w)
}

// Join joins the staff of the laptop that invites at an address. A laptop that
// has a staff can join only that one again, under a new grant: one that was
// revoked may not even know it.
func (n *Node) Join(ctx context.Context, address, word, device string, step func(PairingStep) error) error {
	if _, err := deviceDraft(entry.PersonID{}, entry.DeviceID{}, device); err != nil {
		return err
	}
	pairing, answers, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	ctx, cancel := n.whileOpen(ctx)
	defer cancel()
	var done PairingStep
	err = mesh.Join(ctx, mesh.JoinConfig{
		Address: address, Word: word, Device: n.id().key(), Random: n.cfg.Random,
		Prompt: &prompt{pairing: pairing, answers: answers, step: step},
		Check: func(root ed25519.PublicKey, payload []byte) error {
			var w welcome
			if err := json.Unmarshal(payload, &w); err != nil {
				return fmt.Errorf("the welcome can't be read: %w", err)
			}
			cert, err := n.enter(ctx, root, w, device)
			done = PairingStep{
				Step: "done", Pairing: pairing, Staff: entry.StaffOf(root), Person: cert.Person,
				Device: entry.DeviceOf(cert.Device), StaffName: w.Staff, PersonName: w.Person,
			}
			return err
		},
	})
	var refused *refusal
	switch {
	case err == nil:
		return step(done)
	case n.Founded() && !errors.As(err, &refused) && !errors.Is(err, context.Canceled):
		return refuse(ErrHasStaff, "this laptop belongs to a staff already, and can only join that one again: %v. To join another one name other folders, with --data and --state", err)
	}
	return pairingError(err)
}

// enter makes this laptop a member: it checks the staff's control logs and
// that they grant the certificate before it keeps anything for good. Once the
// keys are kept it is one, and nothing that fails after that is an error: the
// inviter must not hear that it was refused.
func (n *Node) enter(ctx context.Context, root ed25519.PublicKey, w welcome, device string) (entry.Certificate, error) {
	n.entering.Lock()
	defer n.entering.Unlock()
	staff := entry.StaffOf(root)
	cert, err := n.believe(ctx, staff, w)
	if err != nil {
		return cert, err
	}
	id := identity{Device: n.id().Device, Staff: staff.String(), Root: root, IDKey: w.IDKey, LinkKeys: w.LinkKeys}
	if err := id.save(n.cfg.State); err != nil {
		return cert, err
	}
	n.become(id, staff)
	for _, a := range w.Addresses {
		n.rememberAddress(a)
	}
	n.keepMeta(calledMeta, called{Staff: w.Staff, Person: w.Person})
	n.settleIn(cert, device)
	return cert, nil
}

// believe stores what shows that the staff admits this laptop.
func (n *Node) believe(ctx context.Context, staff entry.StaffID, w welcome) (entry.Certificate, error) {
	cert, err := entry.DecodeCertificate(w.Certificate)
	if err != nil {
		return cert, err
	}
	if !cert.Device.Equal(n.id().public()) {
		return cert, errors.New("the welcome is for another laptop")
	}
	if len(w.IDKey) != keySize || len(w.LinkKeys) == 0 {
		return cert, errors.New("the welcome lacks the staff's keys")
	}
	if held := n.store.Staff(); len(n.store.Branches()) > 0 && held != staff || n.Founded() && n.id().Staff != staff.String() {
		return cert, refuse(ErrHasStaff, "the data folder %s belongs to another staff: join with other folders, named by --data and --state", n.cfg.Data)
	}
	if err := n.store.SetStaff(ctx, staff); err != nil {
		return cert, failure(err)
	}
	if err := n.learn(w.Control); err != nil {
		return cert, failure(err)
	}
	if _, admission := n.store.Verdict().Admission(w.Certificate); admission != merge.Admitted {
		return cert, errors.New("the staff's control logs don't admit this laptop")
	}
	return cert, nil
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

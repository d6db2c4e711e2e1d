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
	pairing, answers, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	role := entry.RoleScout
	if director {
		role = entry.RoleDirector
	}
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

// admitNewcomer grants a certificate and writes who it is for. The laptop
// names itself once it is a member.
func (n *Node) admitNewcomer(ctx context.Context, own entry.Certificate, person, title string, role entry.Role, device ed25519.PublicKey) (entry.Certificate, error) {
	id, known, err := n.personNamed(ctx, person)
	if err != nil {
		return entry.Certificate{}, err
	}
	cert, err := n.newCertificate(grantedBy(own, entry.Certificate{Person: id, Role: role, Device: device}))
	if err != nil {
		return entry.Certificate{}, err
	}
	drafts := []Draft{{Body: grant(cert, cutsOf(n.store.Verdict(), entry.DeviceOf(device)))}}
	if !known {
		if title == "" {
			title = map[entry.Role]string{entry.RoleDirector: "director", entry.RoleScout: "area_scout"}[role]
		}
		d, err := personDraft(cert.Person, person, title)
		if err != nil {
			return cert, err
		}
		drafts = append(drafts, d)
	}
	return cert, n.step(Save{Drafts: drafts}).Err
}

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

// Join joins the staff of the laptop that invites at an address.
func (n *Node) Join(ctx context.Context, address, word, device string, step func(PairingStep) error) error {
	if n.Founded() {
		return refuse(ErrHasStaff, "this laptop belongs to a staff already: join with another folder, named by --data and --state")
	}
	pairing, answers, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	var w welcome
	var staffRoot ed25519.PublicKey
	err = mesh.Join(ctx, mesh.JoinConfig{
		Address: address, Word: word, Device: n.id().key(), Random: n.cfg.Random,
		Prompt: &prompt{pairing: pairing, answers: answers, step: step},
		Check: func(root ed25519.PublicKey, payload []byte) error {
			if err := json.Unmarshal(payload, &w); err != nil {
				return fmt.Errorf("the welcome can't be read: %w", err)
			}
			staffRoot = root
			return n.enter(ctx, root, w, device)
		},
	})
	if err != nil {
		return pairingError(err)
	}
	if n.cfg.Links != nil {
		if err := n.startLinks(); err != nil {
			return err
		}
	}
	cert, err := entry.DecodeCertificate(w.Certificate)
	if err != nil {
		return err
	}
	return step(PairingStep{Step: "done", Pairing: pairing, Staff: entry.StaffOf(staffRoot), Person: cert.Person, Device: entry.DeviceOf(cert.Device), StaffName: w.Staff, PersonName: w.Person})
}

// enter makes this laptop a member: it checks the staff's control logs and
// that they grant the certificate before it keeps anything for good.
func (n *Node) enter(ctx context.Context, root ed25519.PublicKey, w welcome, device string) error {
	cert, err := entry.DecodeCertificate(w.Certificate)
	if err != nil {
		return err
	}
	if !cert.Device.Equal(n.id().public()) {
		return errors.New("the welcome is for another laptop")
	}
	staff := entry.StaffOf(root)
	if held := n.store.Staff(); held != (entry.StaffID{}) && held != staff {
		return refuse(ErrHasStaff, "the data folder %s holds another staff's ledger: join with another folder", n.cfg.Data)
	}
	id := identity{Device: n.id().Device, Staff: staff.String(), Root: root, IDKey: w.IDKey, LinkKeys: w.LinkKeys}
	if n.store.Staff() != staff {
		if err := n.store.SetStaff(ctx, staff); err != nil {
			return err
		}
	}
	if err := n.learn(w.Control); err != nil {
		return err
	}
	if _, ok := n.store.Verdict().Grants[entry.CertificateOf(w.Certificate)]; !ok {
		return errors.New("the staff's control logs don't grant this laptop")
	}
	for _, a := range w.Addresses {
		n.rememberAddress(a)
	}
	n.keepMeta(calledMeta, called{Staff: w.Staff, Person: w.Person})
	if err := n.adopt(ctx, id); err != nil {
		return err
	}
	named, err := deviceDraft(cert, device)
	if err != nil {
		return err
	}
	return n.step(Save{Drafts: []Draft{named}}).Err
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

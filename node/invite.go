package node

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"plumbline/sync/entry"
	"plumbline/sync/mesh"
)

// Invite waits for one laptop to join as the person. step is told what to show.
func (n *Node) Invite(ctx context.Context, person, title string, director bool, step func(PairingStep) error) error {
	own, err := n.director()
	if err != nil {
		return err
	}
	if person == "" {
		return refuse(ErrInvalid, "name the person who is to join")
	}
	role := entry.RoleScout
	if director {
		role = entry.RoleDirector
	}
	// What can be refused now isn't left for when both codes are typed.
	if _, _, err := n.invited(ctx, person, title, role, entry.PersonID{}); err != nil {
		return err
	}
	return n.admitOne(ctx, step, mesh.InviteConfig{}, func(device ed25519.PublicKey, p petition) (entry.Certificate, error) {
		return n.admitNewcomer(ctx, own, person, title, role, device, p.Person)
	})
}

// offer is what the joiner is told before it petitions.
type offer struct {
	// Recovery is set if the joiner has to show a grant of the root.
	Recovery bool   `json:"recovery,omitempty"`
	Staff    string `json:"staff,omitempty"`
	// Generation is the highest of a certificate that counts.
	Generation uint64     `json:"generation,omitempty"`
	People     []somebody `json:"people,omitempty"`
}

// somebody is a member of the staff by name.
type somebody struct {
	ID       entry.PersonID `json:"id"`
	Name     string         `json:"name"`
	Director bool           `json:"director,omitempty"`
}

// petition is what the joiner asks for.
type petition struct {
	// Person is who wrote alone until now, and wants to stay who they are.
	Person entry.PersonID `json:"person,omitzero"`
	// Grant is a log of the root that admits the joiner.
	Grant []byte `json:"grant,omitempty"`
}

// admitOne waits for one laptop to join and admits it by what it petitions for.
func (n *Node) admitOne(ctx context.Context, step func(PairingStep) error, cfg mesh.InviteConfig, admit func(ed25519.PublicKey, petition) (entry.Certificate, error)) error {
	pairing, keys, err := n.pairings.open(n.cfg.Random)
	if err != nil {
		return err
	}
	defer n.pairings.close(pairing)
	ctx, cancel := n.whileOpen(ctx)
	defer cancel()
	var joined entry.Certificate
	cfg.Root, cfg.Device, cfg.Host, cfg.Random = n.id().Root, n.pair, n.linkHost(), n.cfg.Random
	cfg.Prompt = &prompt{pairing: pairing, answers: keys.codes, step: step}
	cfg.Announce = func(i mesh.Invitation) {
		s := PairingStep{Step: "waiting", Pairing: pairing, Word: i.Word}
		for _, a := range i.Addresses {
			s.Addresses = append(s.Addresses, a.String())
		}
		// A screen that is gone shows in the next step.
		_ = step(s)
	}
	cfg.Welcome = func(device ed25519.PublicKey, data []byte) ([]byte, error) {
		var p petition
		if err := json.Unmarshal(data, &p); err != nil {
			return nil, fmt.Errorf("the petition can't be read: %w", err)
		}
		var err error
		if joined, err = admit(device, p); err != nil {
			return nil, err
		}
		return n.welcome(ctx, joined)
	}
	if cfg.Offer == nil {
		cfg.Offer = func() ([]byte, error) { return json.Marshal(offer{}) }
	}
	if err := mesh.Invite(ctx, cfg); err != nil {
		return pairingError(err)
	}
	return step(PairingStep{Step: "done", Pairing: pairing, Device: entry.DeviceOf(joined.Device), Person: joined.Person, PersonName: n.reader(ctx).personName(joined.Person)})
}

// pairingError keeps what was refused in words, and gives the rest a reason.
func pairingError(err error) error {
	var r *refusal
	if err == nil || errors.As(err, &r) || errors.Is(err, context.Canceled) {
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

// invited finds the person who is to join, or drafts the record of a new one,
// who stays who they were alone unless that is somebody here.
func (n *Node) invited(ctx context.Context, name, title string, role entry.Role, was entry.PersonID) (entry.PersonID, []Draft, error) {
	id, known, err := n.personNamed(ctx, name)
	if err != nil || known {
		return id, nil, err
	}
	if _, err := io.ReadFull(n.cfg.Random, id[:]); err != nil {
		return id, nil, fmt.Errorf("read randomness: %w", err)
	}
	if was != (entry.PersonID{}) && !n.everMember(was) {
		id = was
	}
	if title == "" {
		title = map[entry.Role]string{entry.RoleDirector: "director", entry.RoleScout: "area_scout"}[role]
	}
	d, err := personDraft(id, name, title)
	return id, []Draft{d}, err
}

// admitNewcomer grants a certificate and writes who it is for. The laptop
// names itself once it is a member.
func (n *Node) admitNewcomer(ctx context.Context, own entry.Certificate, person, title string, role entry.Role, device ed25519.PublicKey, was entry.PersonID) (entry.Certificate, error) {
	id, described, err := n.invited(ctx, person, title, role, was)
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

// everMember reports whether anybody was ever admitted as the person: nobody may
// become somebody else by asking for it.
func (n *Node) everMember(person entry.PersonID) bool {
	for _, c := range n.store.Verdict().Grants {
		if c.Person == person {
			return true
		}
	}
	_, described := n.reader(n.ctx).row(personRecord(person))
	return described
}

// save writes drafts that no person typed.
func (n *Node) save(drafts ...Draft) error { return failure(n.step(Save{Drafts: drafts}).Err) }

// welcome is what a newcomer gets: enough to be a member, and to check that
// the staff is the one promised.
type welcome struct {
	Certificate []byte   `json:"certificate"`
	Control     []byte   `json:"control"` // an introduction
	Written     []byte   `json:"written"` // the inviter's own entries, if few
	IDKey       []byte   `json:"id_key"`
	LinkKeys    [][]byte `json:"link_keys"`
	Addresses   []string `json:"addresses"`
	// The names by which the newcomer knows where it is before the first
	// entries come over.
	Staff  string `json:"staff"`
	Person string `json:"person"`
}

// maxWritten is the most of the inviter's own writing that goes with a welcome,
// in bytes: enough for who the people of the staff are.
const maxWritten = 1 << 20

func (n *Node) welcome(ctx context.Context, cert entry.Certificate) ([]byte, error) {
	control, err := n.controlLogs()
	if err != nil {
		return nil, err
	}
	written, err := n.ownWriting()
	if err != nil {
		written = nil // it comes over with the first link
	}
	id := n.id()
	w := welcome{Certificate: cert.Encode(), Control: control, Written: written, IDKey: id.IDKey, LinkKeys: id.LinkKeys}
	r := n.reader(ctx)
	w.Staff, w.Person = r.shownText(staffRecord(n.store.Staff()), "name"), r.personName(cert.Person)
	n.mu.Lock()
	m := n.mesh
	n.mu.Unlock()
	if m != nil {
		for _, a := range m.Addresses() {
			if !a.Addr().IsLinkLocalUnicast() || a.Addr().Is4() { // those of a link are found by beacon
				w.Addresses = append(w.Addresses, a.String())
			}
		}
	}
	return json.Marshal(w)
}

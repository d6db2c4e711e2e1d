package node

import (
	"context"
	"crypto/ed25519"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbline/node/rootkey"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/mesh"
)

// Recovery says who recovers a staff, and from what.
type Recovery struct {
	Address, Word string
	Device        string // the new laptop's name
	Person        string // who sits at it; the only director if empty
	// Lost names people or laptops to be cut; the director's laptops of the
	// person if empty.
	Lost []string
}

// InviteByRoot waits for one laptop to join that shows a grant of the staff's
// root. Any member may: the root stands above all.
func (n *Node) InviteByRoot(ctx context.Context, step func(PairingStep) error) error {
	if _, _, err := n.standing(); err != nil {
		return err
	}
	cfg := mesh.InviteConfig{
		Offer: func() ([]byte, error) { return n.recoveryOffer(ctx) },
		Carry: func(ctx context.Context, c *mesh.Carrier) error { return n.converse(ctx, c, nil) },
	}
	return n.admitOne(ctx, step, cfg, func(device ed25519.PublicKey, p petition) (entry.Certificate, error) {
		return n.acceptRoot(device, p.Grant)
	})
}

func (n *Node) recoveryOffer(ctx context.Context) ([]byte, error) {
	o := offer{Recovery: true, Staff: n.reader(ctx).shownText(staffRecord(n.store.Staff()), "name")}
	for _, c := range n.store.Verdict().Grants {
		o.Generation = max(o.Generation, c.Generation)
	}
	roster, err := n.Roster(ctx)
	if err != nil {
		return nil, err
	}
	for _, m := range roster {
		director := m.Role == entry.RoleDirector && !m.Revoked
		i := slices.IndexFunc(o.People, func(s somebody) bool { return s.ID == m.Author.Person })
		if i < 0 {
			o.People = append(o.People, somebody{m.Author.Person, m.Author.Name, director})
			continue
		}
		o.People[i].Director = o.People[i].Director || director
	}
	return json.Marshal(o)
}

// acceptRoot stores a grant that the root signed for the device.
func (n *Node) acceptRoot(device ed25519.PublicKey, grant []byte) (entry.Certificate, error) {
	logs, err := readIntroduction(grant)
	if err != nil || len(logs) != 1 {
		return entry.Certificate{}, refuse(ErrPairing, "the other laptop showed no grant of the root")
	}
	if err := n.learn(grant); err != nil {
		return entry.Certificate{}, failure(err)
	}
	v := n.store.Verdict()
	for _, c := range certificatesOf(v, device) {
		if allows, admission := v.Admission(c.Encode()); admission == merge.Admitted && allows.Role == entry.RoleDirector && len(c.Path) == 0 {
			return c, nil
		}
	}
	return entry.Certificate{}, refuse(ErrPairing, "the other laptop showed no grant that counts")
}

// Recover makes this laptop a director's by the staff's root, on the strength of
// which any laptop of the staff lets it in and hands over the ledger. Then what
// was lost is cut, and with it the link key changed.
func (n *Node) Recover(ctx context.Context, r Recovery, step func(PairingStep) error) error {
	if n.Founded() {
		return refuse(ErrHasStaff, "this laptop belongs to a staff already: a staff is recovered on a new laptop, or in other folders named by --data and --state")
	}
	if _, err := deviceDraft(entry.PersonID{}, entry.DeviceID{}, r.Device); err != nil {
		return err
	}
	var who somebody
	return pairingError(n.petition(ctx, r.Address, r.Word, step, joining{
		device: r.Device,
		ask: func(ctx context.Context, root ed25519.PublicKey, o offer, t typing) (petition, error) {
			if !o.Recovery {
				return petition{}, refuse(ErrPairing, "that laptop invites as usual: start plumbline invite --recovery on it")
			}
			var err error
			if who, err = n.recovering(o, r.Person); err != nil {
				return petition{}, err
			}
			return n.bySignature(ctx, root, o, who, t)
		},
		carry: func(ctx context.Context, c *mesh.Carrier, done *PairingStep) error {
			return n.converse(ctx, c, func(ctx context.Context, l *peerLink) error {
				return n.takeOver(ctx, l, who, r.Lost, done)
			})
		},
	}))
}

// recovering finds who sits at the new laptop: somebody of the staff, or a new
// person.
func (n *Node) recovering(o offer, name string) (somebody, error) {
	var fit []somebody
	for _, s := range o.People {
		if name == "" && s.Director || name != "" && (strings.EqualFold(s.Name, name) || s.ID.String() == name) {
			fit = append(fit, s)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return somebody{}, refuse(ErrAmbiguous, "there are %d people whom that could mean: say who you are with --person", len(fit))
	case name == "":
		return somebody{}, refuse(ErrInvalid, "no director is on the roster: say who you are with --person")
	}
	if _, err := personDraft(entry.PersonID{}, name, "director"); err != nil {
		return somebody{}, err
	}
	cert, err := n.newCertificate(entry.Certificate{}) // for the random person
	return somebody{ID: cert.Person, Name: name}, err
}

// rootTries is how often the root may be typed.
const rootTries = 3

// bySignature asks for the root, signs this laptop's grant of the next generation
// with it and overwrites it.
func (n *Node) bySignature(ctx context.Context, public ed25519.PublicKey, o offer, who somebody, t typing) (petition, error) {
	if o.Generation == math.MaxUint64 {
		return petition{}, refuse(ErrInvalid, "the staff has no generation left: found it anew")
	}
	cert, err := n.newCertificate(entry.Certificate{
		Person: who.ID, Role: entry.RoleDirector, Device: n.public(), Generation: o.Generation + 1,
	})
	if err != nil {
		return petition{}, err
	}
	var wrong error
	for range rootTries {
		s := PairingStep{Step: "root", Pairing: t.pairing, StaffName: o.Staff, PersonName: who.Name}
		if wrong != nil {
			s.Wrong = wrong.Error()
		}
		if err := t.step(s); err != nil {
			return petition{}, err
		}
		var text []byte
		select {
		case text = <-t.keys.roots:
		case <-ctx.Done():
			return petition{}, context.Cause(ctx)
		}
		var run entry.Run
		if run, wrong = n.signedBy(text, public, o.Staff, cert); wrong == nil {
			return petition{Grant: introduction(run)}, nil
		}
		if !errors.Is(wrong, ErrInvalid) {
			break
		}
	}
	return petition{}, wrong
}

// signedBy is the only place where a root is read. Neither the text nor what
// comes of it outlives the call, as far as Go lets one say so.
func (n *Node) signedBy(text []byte, public ed25519.PublicKey, staff string, cert entry.Certificate) (entry.Run, error) {
	defer clear(text)
	seed, err := rootkey.Parse(text)
	if err != nil {
		return entry.Run{}, refuse(ErrInvalid, "%v", err)
	}
	defer clear(seed)
	root := ed25519.NewKeyFromSeed(seed)
	defer clear(root)
	if !public.Equal(root.Public()) {
		return entry.Run{}, refuse(ErrInvalid, "this is the root of another staff than %s: take the paper of this one", staff)
	}
	return n.rootRun(root, entry.StaffOf(public), grant(cert, nil))
}

// takeOver waits for the ledger, says who this is, cuts what was lost and waits
// until the other laptop has that.
func (n *Node) takeOver(ctx context.Context, l *peerLink, who somebody, lost []string, done *PairingStep) error {
	left := func(err error) error {
		return fmt.Errorf("this laptop is a director's now, but what was lost isn't cut yet: run plumbline run until all has come over, then plumbline revoke LAPTOP: %w", err)
	}
	if err := n.alike(ctx, l); err != nil {
		return left(err)
	}
	if _, known := n.reader(ctx).row(personRecord(who.ID)); !known {
		d, err := personDraft(who.ID, who.Name, "director")
		if err != nil {
			return left(err)
		}
		if err := n.save(d); err != nil {
			return left(err)
		}
	}
	cut, err := n.cutLost(ctx, who, lost)
	if err != nil {
		return left(err)
	}
	done.Cut, done.PersonName = cut, who.Name
	return n.alike(ctx, l)
}

// cutLost cuts the laptops that are named, or the director's of the person.
func (n *Node) cutLost(ctx context.Context, who somebody, lost []string) ([]string, error) {
	own, err := n.director()
	if err != nil {
		return nil, err
	}
	roster, err := n.Roster(ctx)
	if err != nil {
		return nil, err
	}
	self := entry.DeviceOf(n.public())
	var gone []Member
	for _, m := range roster {
		if len(lost) == 0 && m.Author.Person == who.ID && m.Role == entry.RoleDirector {
			gone = append(gone, m)
		}
	}
	for _, name := range lost {
		members, err := n.members(ctx, name)
		if err != nil {
			return nil, err
		}
		gone = append(gone, members...)
	}
	gone = slices.DeleteFunc(gone, func(m Member) bool { return m.Revoked || m.Device == self })
	if len(gone) == 0 {
		return nil, nil
	}
	if _, err := n.cut(own, gone, who.Name, false); err != nil {
		return nil, err
	}
	var names []string
	for _, m := range gone {
		names = append(names, m.DeviceName)
	}
	return names, nil
}

package node

import (
	"fmt"

	"bytes"
	"cmp"
	"crypto/ed25519"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// certificate returns what this laptop writes under.
func (n *Node) certificate() ([]byte, error) {
	certificate, _, err := n.standing()
	return certificate, err
}

// onLinks returns what this laptop shows on links: what it writes under, or the
// certificate that the fewest cuts bind. It may hold itself for revoked by a cut that
// doesn't count, as its author was cut before: whoever knows that links with it, and
// tells it. Only who proved a key that members have is shown it.
func (n *Node) onLinks() []byte {
	certificate, err := n.certificate()
	if err == nil {
		return certificate
	}
	v := n.store.Verdict()
	own := certificatesOf(v, n.public())
	if len(own) == 0 {
		return nil
	}
	return slices.MinFunc(own, func(a, b entry.Certificate) int { return cmp.Compare(v.Against(a), v.Against(b)) }).Encode()
}

// staffed refuses where there is nothing to read, since nobody founded or
// joined a staff here.
func (n *Node) staffed() error {
	if n.store.Staff() == (entry.StaffID{}) {
		return n.noStaff()
	}
	return n.notLost()
}

// notLost refuses where a member's database is empty. It holds at least the
// staff's first grant, so somebody or something has emptied or removed it; to
// show an empty list would be to say that there was never anything.
func (n *Node) notLost() error {
	if n.id().founded() && n.store.Empty() {
		return refuse(ErrLost, "the database in %s is empty, though this laptop belongs to a staff: look for it in the trash, or restore a backup with plumbline restore. "+
			"Without one, let this laptop join the staff again, which brings back what the others hold", n.cfg.Data)
	}
	return nil
}

func (n *Node) noStaff() error { return noStaff(n.cfg.Data) }

func noStaff(data string) error { return refuse(ErrNoStaff, "%s", NoStaff(data)) }

// NoStaff says where a new laptop stands, and with which data folder: it may be a
// slip in its name.
func NoStaff(data string) string {
	return fmt.Sprintf("this laptop has no staff yet, in the data folder %s: found one with plumbline init, join one with plumbline join, or name another folder with --data", data)
}

// standing returns the certificate that this laptop writes under: its bytes, and
// what it still allows. A demoted director's allows what a scout's does.
func (n *Node) standing() ([]byte, entry.Certificate, error) {
	if !n.id().founded() {
		if n.store.Staff() != (entry.StaffID{}) {
			return nil, entry.Certificate{}, refuse(ErrNoKey, "this copy was restored without its laptop's keys and can only be read: to write, let it join the staff as a new laptop with plumbline join")
		}
		return nil, entry.Certificate{}, n.noStaff()
	}
	if err := n.notLost(); err != nil {
		return nil, entry.Certificate{}, err
	}
	best, cert, admission := Best(n.store.Verdict(), n.public())
	switch admission {
	case merge.Admitted:
		return best, cert, nil
	case merge.Revoked:
		return nil, entry.Certificate{}, refuse(ErrRights, "this laptop was revoked: what it writes would count nowhere. Ask a director to invite it again")
	}
	return nil, entry.Certificate{}, refuse(ErrRights, "no grant that counts admits this laptop: ask a director to invite it again")
}

// Best returns, of the certificates that count for a device's key and admit it,
// the one with the most rights, then the highest rank: its bytes, and what it
// still allows. Where none admits, it tells whether one is revoked.
func Best(v *merge.Verdict, device ed25519.PublicKey) (best []byte, allowed entry.Certificate, admission merge.Admission) {
	for _, c := range certificatesOf(v, device) {
		encoded := c.Encode()
		allows, a := v.Admission(encoded)
		// A fresh log under a demoted certificate has a scout's rights, so a
		// plain one that was granted since is as good.
		if a == merge.Admitted && (best == nil || allows.Role > allowed.Role) {
			best, allowed = encoded, allows
		}
		if admission != merge.Admitted && a != merge.Unknown {
			admission = a
		}
	}
	return best, allowed, admission
}

// certificatesOf returns a device's certificates that count, the best first.
func certificatesOf(v *merge.Verdict, device []byte) []entry.Certificate {
	var certs []entry.Certificate
	for _, c := range v.Grants {
		if bytes.Equal(c.Device, device) {
			certs = append(certs, c)
		}
	}
	slices.SortFunc(certs, func(a, b entry.Certificate) int {
		return cmp.Or(
			cmp.Compare(b.Role, a.Role),
			cmp.Compare(b.Generation, a.Generation),
			cmp.Compare(len(a.Path), len(b.Path)),
			bytes.Compare(a.Opaque[:], b.Opaque[:]),
		)
	})
	return certs
}

// director reports whether this laptop may write a director's entries.
func (n *Node) director() (entry.Certificate, error) {
	_, cert, err := n.standing()
	if err != nil {
		return cert, err
	}
	if cert.Role != entry.RoleDirector {
		return cert, refuse(ErrRights, "only a director's laptop may do this; this one has a scout's rights. Ask a director, or be promoted with plumbline promote")
	}
	return cert, nil
}

package node

import (
	"bytes"
	"cmp"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// certificate returns what this laptop writes under: of the certificates that
// count for its key the one with the most rights, then the highest rank.
func (n *Node) certificate() ([]byte, error) {
	certificate, _, err := n.standing()
	return certificate, err
}

func (n *Node) standing() ([]byte, entry.Certificate, error) {
	if !n.id().founded() {
		if n.store.Staff() != (entry.StaffID{}) {
			return nil, entry.Certificate{}, refuse(ErrNoKey, "this copy was restored without its laptop's keys and can only be read: to write, let it join the staff as a new laptop with plumbline join")
		}
		return nil, entry.Certificate{}, refuse(ErrNoStaff, "this laptop has no staff yet: found one with plumbline init, or join one with plumbline join")
	}
	verdict := n.store.Verdict()
	var best []byte
	var cert entry.Certificate
	revoked := false
	for _, c := range certificatesOf(verdict, n.id().public()) {
		encoded := c.Encode()
		_, admission := verdict.Admission(encoded)
		revoked = revoked || admission == merge.Revoked
		if admission == merge.Admitted && !demoted(verdict, c) {
			best, cert = encoded, c
			break
		}
		if admission == merge.Admitted && best == nil {
			best, cert = encoded, c
		}
	}
	switch {
	case best != nil:
		return best, cert, nil
	case revoked:
		return nil, entry.Certificate{}, refuse(ErrRights, "this laptop was revoked: what it writes would count nowhere. Ask a director to invite it again")
	}
	return nil, entry.Certificate{}, refuse(ErrRights, "no grant that counts admits this laptop: ask a director to invite it again")
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

// demoted reports whether a cut leaves the certificate a scout's rights only.
// A fresh log under it would have nothing more, so a plain certificate that
// was granted since is the better one to write under.
func demoted(v *merge.Verdict, c entry.Certificate) bool {
	return c.Role == entry.RoleDirector && slices.ContainsFunc(v.Cuts, func(cut merge.Cut) bool {
		return cut.Body.Device == entry.DeviceOf(c.Device) && cut.Body.Beyond == entry.BeyondScout && cut.Author.Above(c.Rank())
	})
}

// director reports whether this laptop may write a director's entries.
func (n *Node) director() (entry.Certificate, error) {
	_, cert, err := n.standing()
	if err != nil {
		return cert, err
	}
	if cert.Role != entry.RoleDirector || demoted(n.store.Verdict(), cert) {
		return cert, refuse(ErrRights, "only a director's laptop may do this; this one has a scout's rights. Ask a director, or be promoted with plumbline promote")
	}
	return cert, nil
}

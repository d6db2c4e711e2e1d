package node

import (
	"bytes"
	"cmp"
	"context"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Roster lists the laptops of the staff: those whose grants count.
func (n *Node) Roster(ctx context.Context) ([]Member, error) {
	verdict := n.store.Verdict()
	keys := map[entry.DeviceID][]byte{}
	for _, c := range verdict.Grants {
		keys[entry.DeviceOf(c.Device)] = c.Device
	}
	r := n.reader(ctx)
	members := make([]Member, 0, len(keys))
	for device, key := range keys {
		m := memberOf(verdict, device, certificatesOf(verdict, key))
		m.Author.Name, m.DeviceName = r.personName(m.Author.Person), r.deviceName(m.Author.Person, m.Device)
		members = append(members, m)
	}
	slices.SortFunc(members, func(a, b Member) int {
		return cmp.Or(strings.Compare(a.Author.Name, b.Author.Name), strings.Compare(a.DeviceName, b.DeviceName), bytes.Compare(a.Device[:], b.Device[:]))
	})
	return members, r.err
}

// memberOf says what a laptop's certificates come to. It is the person's of the
// best that admits it, else of the best; a revoked one shows the role that it had.
func memberOf(v *merge.Verdict, device entry.DeviceID, certs []entry.Certificate) Member {
	m := Member{Device: device, Author: Author{Person: certs[0].Person, Device: device}, Role: entry.RoleScout, Revoked: true}
	had := m.Role
	for _, c := range certs {
		had = max(had, c.Role)
		allows, admission := v.Admission(c.Encode())
		if admission == merge.Revoked {
			continue
		}
		if m.Revoked {
			m.Revoked, m.Author.Person = false, c.Person
		}
		m.Role = max(m.Role, allows.Role)
	}
	if m.Revoked {
		m.Role = had
	}
	return m
}

// members finds the laptops that a name or id means: one laptop, or all of a
// person's.
func (n *Node) members(ctx context.Context, who string) ([]Member, error) {
	roster, err := n.Roster(ctx)
	if err != nil {
		return nil, err
	}
	var persons, devices []Member
	for _, m := range roster {
		if strings.EqualFold(m.Author.Name, who) || m.Author.Person.String() == who || personRecord(m.Author.Person).String() == who {
			persons = append(persons, m)
		}
		if strings.EqualFold(m.DeviceName, who) || m.Device.String() == who || deviceRecord(m.Author.Person, m.Device).String() == who {
			devices = append(devices, m)
		}
	}
	found := persons
	if len(found) == 0 {
		found = devices
	}
	if len(found) == 0 {
		return nil, refuse(ErrNotFound, "nobody on the roster, and no laptop, is called %q: plumbline roster lists them", who)
	}
	for _, m := range found {
		if len(persons) > 0 && m.Author.Person != found[0].Author.Person || len(persons) == 0 && len(found) > 1 {
			return nil, refuse(ErrAmbiguous, "%q fits several people or laptops: name one by its id, as plumbline roster shows it", who)
		}
	}
	return found, nil
}

// Promote grants a director's rights to laptops.
func (n *Node) Promote(ctx context.Context, who string) ([]entry.DeviceID, error) {
	own, err := n.director()
	if err != nil {
		return nil, err
	}
	members, err := n.members(ctx, who)
	if err != nil {
		return nil, err
	}
	var drafts []Draft
	var devices []entry.DeviceID
	for _, m := range members {
		if m.Revoked || m.Role == entry.RoleDirector {
			continue
		}
		key := deviceKey(n.store.Verdict(), m.Device)
		cert, err := n.newCertificate(grantedBy(own, entry.Certificate{Person: m.Author.Person, Role: entry.RoleDirector, Device: key}))
		if err != nil {
			return nil, err
		}
		drafts = append(drafts, Draft{Body: grant(cert, cutsOf(n.store.Verdict(), m.Device))})
		devices = append(devices, m.Device)
	}
	if len(drafts) == 0 {
		return nil, refuse(ErrInvalid, "%q has no laptop to promote: each is a director's already, or was revoked (invite that one again)", who)
	}
	return devices, n.save(drafts...)
}

// grantedBy places a certificate below the one of whoever grants it.
func grantedBy(own, c entry.Certificate) entry.Certificate {
	c.Generation = own.Generation
	c.Path = append(slices.Clone(own.Path), entry.CertificateOf(own.Encode()))
	return c
}

func grant(c entry.Certificate, readmits []entry.ID) entry.Body {
	return entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: c.Encode(), Readmits: readmits}}
}

func deviceKey(v *merge.Verdict, device entry.DeviceID) []byte {
	for _, c := range v.Grants {
		if entry.DeviceOf(c.Device) == device {
			return c.Device
		}
	}
	return nil
}

// cutsOf returns the standing cuts of a device, which a new grant names if it
// is to hold in spite of them.
func cutsOf(v *merge.Verdict, device entry.DeviceID) []entry.ID {
	var ids []entry.ID
	for _, cut := range v.Cuts {
		if cut.Body.Device == device {
			ids = append(ids, cut.ID)
		}
	}
	return ids
}

// Revoke ends what laptops may do, as of what this laptop holds of their logs,
// and changes the link key, which they know; demote leaves a scout's rights.
func (n *Node) Revoke(ctx context.Context, who string, demote bool) ([]entry.DeviceID, error) {
	own, err := n.director()
	if err != nil {
		return nil, err
	}
	members, err := n.members(ctx, who)
	if err != nil {
		return nil, err
	}
	return n.cut(own, members, who, demote)
}

// cut ends what the laptops may do.
func (n *Node) cut(own entry.Certificate, members []Member, who string, demote bool) ([]entry.DeviceID, error) {
	beyond := entry.BeyondNothing
	if demote {
		beyond = entry.BeyondScout
	}
	var drafts []Draft
	var devices []entry.DeviceID
	for _, m := range members {
		if m.Revoked {
			continue
		}
		if err := n.ranksBelow(own, m); err != nil {
			return nil, err
		}
		cut := entry.Cut{Device: m.Device, Beyond: beyond, Heads: n.headsOf(m.Device)}
		drafts = append(drafts, Draft{Body: entry.Body{Kind: entry.KindCut, Cut: &cut}})
		devices = append(devices, m.Device)
	}
	if len(drafts) == 0 {
		return nil, refuse(ErrInvalid, "every laptop of %q was revoked already", who)
	}
	return devices, failure(n.step(Save{Drafts: drafts, NewLinkKey: !demote}).Err)
}

// ranksBelow refuses a cut that would bind nothing.
func (n *Node) ranksBelow(own entry.Certificate, m Member) error {
	if m.Device == entry.DeviceOf(n.public()) {
		return refuse(ErrRights, "this laptop can't cut itself: another director can")
	}
	for _, c := range n.store.Verdict().Grants {
		if entry.DeviceOf(c.Device) == m.Device && !own.Rank().Above(c.Rank()) {
			return refuse(ErrRights, "%s ranks as high as this one, and equals can't cut each other: whoever granted it can, or the staff's root", LaptopOf(m.Author.Name, m.DeviceName))
		}
	}
	return nil
}

// headsOf names the end of each branch of a device's logs as held here.
func (n *Node) headsOf(device entry.DeviceID) []entry.ID {
	var heads []entry.ID
	for _, b := range n.store.Branches() {
		if b.Device == device {
			heads = append(heads, b.Tip.ID(b.Log))
		}
	}
	slices.SortFunc(heads, entry.ID.Compare)
	return heads
}

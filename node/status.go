package node

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Status says where this laptop stands.
func (n *Node) Status(ctx context.Context) (Status, error) {
	s := Status{Version: n.cfg.Version, Staff: n.store.Staff(), StateHash: n.store.StateHash(), Founded: n.Founded()}
	s.Device = entry.DeviceOf(n.public())
	counts, err := n.store.Counts(ctx)
	if err != nil {
		return s, err
	}
	s.Entries, s.Logs, s.SetAside = uint64(counts.Entries), counts.Logs, counts.Unapplied
	var conflicts []Conflict
	if s.Staff != (entry.StaffID{}) && !n.store.Empty() {
		if conflicts, err = n.Conflicts(ctx, ""); err != nil {
			return s, err
		}
		s.Conflicts = len(conflicts)
	}
	s.Controls, s.Forked = n.logs()
	r := n.reader(ctx)
	if s.Founded || s.Staff != (entry.StaffID{}) {
		_, cert, err := n.standing()
		if err != nil {
			s.Trouble = err.Error()
		}
		s.Role = cert.Role
		s.Author = Author{Person: cert.Person, Device: s.Device}
		if err == nil {
			s.OthersConflicts = ofOthers(conflicts, cert)
			at := n.calledAtJoining(ctx)
			s.Author.Name = cmp.Or(r.shownText(personRecord(cert.Person), "name"), at.Person, r.personName(cert.Person))
			s.DeviceName = r.deviceName(cert.Person, s.Device)
			s.StaffName = at.Staff
		}
		s.StaffName = cmp.Or(r.shownText(staffRecord(s.Staff), "name"), s.StaffName)
	}
	if n.store.Blocked() {
		s.Trouble = "a director's newer plumbline wrote something that this one doesn't understand: nothing is folded until it is updated"
	}
	roster, err := n.Roster(ctx)
	if err != nil {
		return s, err
	}
	s.Peers = n.peers(roster, s.Device)
	if s.Role != 0 {
		s.Unmet = n.unmet(s.Peers)
	}
	trouble := append(n.suspicions(roster), n.crowded(roster, s.Device)...)
	if s.Trouble != "" {
		trouble = slices.Insert(trouble, 0, s.Trouble)
	}
	s.Trouble = strings.Join(trouble, " ")
	s.Alone = n.wroteAlone(ctx)
	s.Returned, s.Clones = n.returned(roster), n.clones(roster, s.Device)
	if s.Damages, err = n.damages(ctx); err != nil {
		return s, err
	}
	n.mu.Lock()
	m := n.mesh
	n.mu.Unlock()
	if m != nil {
		for _, a := range m.Addresses() {
			s.Addresses = append(s.Addresses, a.String())
		}
	}
	return s, r.err
}

// ofOthers counts the conflicts that a laptop's person may not settle.
func ofOthers(conflicts []Conflict, cert entry.Certificate) int {
	n := 0
	for _, c := range conflicts {
		if !merge.MayWrite(cert, c.Record) {
			n++
		}
	}
	return n
}

// logs counts the control entries held, and names the logs with branches.
func (n *Node) logs() (controls int, forked []entry.LogID) {
	branches := map[entry.LogID]int{}
	for _, b := range n.store.Branches() {
		if b.Control {
			controls += int(b.Tip.Seq)
		}
		if branches[b.Log]++; branches[b.Log] == 2 {
			forked = append(forked, b.Log)
		}
	}
	return controls, forked
}

// peers lists the other laptops of the roster, and how far each is.
func (n *Node) peers(roster []Member, own entry.DeviceID) []PeerStatus {
	linked := n.linked()
	var peers []PeerStatus
	for _, m := range roster {
		if m.Device == own {
			continue
		}
		p := linked[m.Device]
		p.Device, p.DeviceName, p.Author, p.Revoked = m.Device, m.DeviceName, m.Author, m.Revoked
		peers = append(peers, p)
	}
	return peers
}

func (n *Node) linked() map[entry.DeviceID]PeerStatus {
	n.mu.Lock()
	defer n.mu.Unlock()
	all := map[entry.DeviceID]PeerStatus{}
	for id, l := range n.links {
		peer := l.link.Peer()
		p := PeerStatus{Linked: true, Address: peer.Address}
		if s := n.core.Session(id); s != nil {
			p.Behind, p.Ahead = s.Behind(), s.Ahead()
		}
		all[peer.Device] = p
	}
	return all
}

package rpc

import (
	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
	"plumbline/sync/entry"
)

func inviteStepTo(s node.PairingStep) *v1.InviteResponse {
	return &v1.InviteResponse{
		Step: s.Step, Pairing: s.Pairing, Addresses: s.Addresses, Word: s.Word, Code: s.Code,
		Device: text(s.Device), Person: text(s.Person), PersonName: s.PersonName,
	}
}

func joinStepTo(s node.PairingStep) *v1.JoinResponse {
	return &v1.JoinResponse{
		Step: s.Step, Pairing: s.Pairing, Code: s.Code, Staff: text(s.Staff), Person: text(s.Person),
		StaffName: s.StaffName, PersonName: s.PersonName, Alone: aloneTo(s.Alone),
	}
}

func aloneTo(a *node.Alone) *v1.WrittenAlone {
	if a == nil {
		return nil
	}
	return &v1.WrittenAlone{StaffName: a.Staff, PersonName: a.Person, Taken: each(a.Taken, amountTo), Left: each(a.Left, amountTo), Kept: a.Kept}
}

func amountTo(a node.Amount) *v1.Amount {
	return &v1.Amount{Kind: a.Kind, Records: count(a.Records), Retired: count(a.Retired)}
}

func recoverStepTo(s node.PairingStep) *v1.RecoverResponse {
	return &v1.RecoverResponse{
		Step: s.Step, Pairing: s.Pairing, Code: s.Code, Staff: text(s.Staff), Person: text(s.Person),
		StaffName: s.StaffName, PersonName: s.PersonName, Wrong: s.Wrong, Devices: s.Cut,
	}
}

func memberTo(m node.Member) *v1.Member {
	return &v1.Member{
		Device: text(m.Device), DeviceName: m.DeviceName, Person: text(m.Author.Person), PersonName: m.Author.Name,
		Role: roleName(m.Role), Revoked: m.Revoked,
	}
}

// roleName gives nothing for a laptop that belongs to no staff yet.
func roleName(r entry.Role) string {
	if r == 0 {
		return ""
	}
	return r.String()
}

func statusTo(s node.Status) *v1.StatusResponse {
	return &v1.StatusResponse{
		Staff: text(s.Staff), StaffName: s.StaffName, Device: text(s.Device), DeviceName: s.DeviceName,
		Person: text(s.Author.Person), PersonName: s.Author.Name, Role: roleName(s.Role),
		Entries: count(s.Entries), Logs: count(s.Logs), StateHash: s.StateHash.String(),
		Conflicts: count(s.Conflicts), ConflictsOfOthers: count(s.OthersConflicts), SetAside: count(s.SetAside), Peers: each(s.Peers, peerTo),
		Version: s.Version, Addresses: s.Addresses, Trouble: s.Trouble, Controls: count(s.Controls), Forked: texts(s.Forked),
		Returned: each(s.Returned, returnedTo), Clones: each(s.Clones, cloneTo), Damages: each(s.Damages, damageTo),
		Alone: aloneTo(s.Alone), Unmet: string(s.Unmet),
	}
}

func returnedTo(r node.ReturnedEntries) *v1.Returned {
	return &v1.Returned{
		Log: text(r.Log), Entries: count(r.Entries), Device: text(r.From.Device), DeviceName: r.DeviceName, PersonName: r.From.Name,
	}
}

func cloneTo(c node.Clone) *v1.Clone {
	return &v1.Clone{
		Log: text(c.Log), Device: text(c.Author.Device), DeviceName: c.DeviceName, Person: text(c.Author.Person),
		PersonName: c.Author.Name, Entries: each(c.Entries, count[uint64]), Own: c.Own,
	}
}

func damageTo(d node.Damage) *v1.Damage {
	return &v1.Damage{Kept: d.Kept, Whole: d.Whole, After: timeTo(d.After)}
}

func peerTo(p node.PeerStatus) *v1.PeerStatus {
	return &v1.PeerStatus{
		Device: text(p.Device), DeviceName: p.DeviceName, Person: text(p.Author.Person), PersonName: p.Author.Name,
		Linked: p.Linked, Address: p.Address, Behind: count(p.Behind), Ahead: count(p.Ahead), Revoked: p.Revoked,
	}
}

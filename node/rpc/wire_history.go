package rpc

import (
	"plumbline/node"
	"plumbline/node/record"
	v1 "plumbline/proto/plumbline/v1"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

func revisionTo(r node.Revision) *v1.Revision {
	kind := ""
	if k, ok := record.Stored().KindOf(r.Record); ok {
		kind = k.Name
	}
	return &v1.Revision{
		Kind: kind, Title: r.Title, DeviceName: r.DeviceName, Reason: r.Reason, Says: r.Says, Control: r.Control,
		Id: text(r.ID), Record: text(r.Record),
		Person: text(r.Author.Person), PersonName: r.Author.Name, Device: text(r.Author.Device),
		Written: timeTo(r.Written), Status: statusName(r.Status), Act: actName(r.Act), Source: r.Source,
		Fields: each(r.Fields, revisedFieldTo),
	}
}

func unreadTo(u node.Unread) *v1.Unread {
	return &v1.Unread{Revisions: each(u.Revisions, revisionTo), Total: count(u.Total)}
}

func revisedFieldTo(f node.RevisedField) *v1.RevisedField {
	return &v1.RevisedField{Name: f.Name, Text: f.Text, Cleared: f.Cleared, Replaces: texts(f.Replaces)}
}

func statusName(s merge.Status) string {
	switch s {
	case merge.Applied:
		return "applied"
	case merge.SetAside:
		return "set aside"
	case merge.NoRight:
		return "no right"
	case merge.Erased:
		return "erased"
	}
	return "unread"
}

func actName(k entry.BodyKind) string {
	switch k {
	case entry.KindGenesis:
		return "start of a log"
	case entry.KindChanges:
		return "changes"
	case entry.KindRetirement:
		return "retirement"
	case entry.KindKeep:
		return "keep"
	case entry.KindGrant:
		return "grant"
	case entry.KindCut:
		return "cut"
	case entry.KindErasure:
		return "erasure"
	case entry.KindLinkKey:
		return "link key"
	}
	return "newer than this program"
}

func changeTo(c node.Change) *v1.WatchResponse {
	return &v1.WatchResponse{
		Entries: count(c.Entries), StateHash: c.StateHash.String(), Records: texts(c.Records), Many: c.Many, Peers: c.Peers,
	}
}

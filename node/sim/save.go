package sim

import (
	"fmt"
	"strings"

	"plumbline/node"
	"plumbline/sync/entry"
)

// save writes drafts. A laptop whose disk works and which may write has no reason
// to refuse.
func (l *Laptop) save(drafts ...node.Draft) []entry.ID { return l.saveAll(node.Save{Drafts: drafts}) }

func (l *Laptop) saveAll(save node.Save) []entry.ID {
	faulty := l.disk.Faults().failing > 0 || save.NewLinkKey && l.ring.refuses > 0
	if _, _, ok := l.best(); !ok {
		return nil
	}
	late := l.w.unheardCut(l)
	saved := l.step(save)
	if saved.Err != nil && !faulty && l.up != nil {
		l.w.fail("%s refuses to save: %v", l, saved.Err)
	}
	for i, id := range saved.IDs {
		if late {
			l.w.late[l.w.fact(id)] = true
		}
		if i < len(save.Drafts) {
			draft := save.Drafts[i]
			l.w.say("%s wrote %d to %.4s: %s", l, l.w.written.number[l.w.fact(id)], draft.Record.String(), describe(draft.Body))
		}
	}
	return saved.IDs
}

func describe(b entry.Body) string {
	if b.Kind == entry.KindChanges {
		var parts []string
		for _, c := range b.Changes {
			parts = append(parts, fmt.Sprintf("%d%s op %d %.12q replacing %d", c.Field, c.Key, c.Op, c.Value, len(c.Replaces)))
		}
		return strings.Join(parts, ", ")
	}
	switch b.Kind {
	case entry.KindCut:
		return fmt.Sprintf("cuts device %.4s", b.Cut.Device)
	case entry.KindGrant:
		cert, _ := entry.DecodeCertificate(b.Grant.Certificate)
		return fmt.Sprintf("grants device %.4s", entry.DeviceOf(cert.Device))
	}
	return fmt.Sprint("kind ", b.Kind)
}

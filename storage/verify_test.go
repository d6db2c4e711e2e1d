package storage

import (
	"context"
	"strings"
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
	"plumbline/sync/merge/mergetest"
)

// soundWorld has forks, retirements, references, unapplied and erased entries.
func soundWorld() *mergetest.World {
	w := newWorld(14)
	control, data := w.Director(w.Root, 1)
	a := w.Scout(control, 2)
	first := a.Write(prospect(1), value(1, "elm"))
	a.Write(a.Look(1), refer(2, prospect(1)))
	clone := a.Fork(a.At)
	a.Write(prospect(2), value(1, "oak"))
	clone.Write(prospect(2), value(1, "ash"))
	a.Write(board(1), value(1, "no right"))
	erased := data.Write(prospect(3), value(1, "gone"))
	control.Erase(entry.Erasure{Entries: []entry.ErasedEntry{{ID: erased.ID, Record: prospect(3)}}})
	data.Retire(prospect(1), first)
	a.Same(merge.Yes, prospect(1), prospect(2))
	return w
}

// TestVerifyFindsEveryFlippedBit changes one thing at a time behind the
// store's back.
func TestVerifyFindsEveryFlippedBit(t *testing.T) {
	ctx := context.Background()
	for what, c := range map[string]struct {
		damage, finds string
		rebuilt       bool
	}{
		"a body":           {"UPDATE entry SET body = flip(body) WHERE n = (SELECT max(n) FROM entry)", "the body isn't the one", false},
		"a header":         {"UPDATE entry SET header = flip(header) WHERE n = (SELECT max(n) FROM entry)", "the running hash isn't", false},
		"a hash":           {"UPDATE entry SET hash = flip(hash) WHERE n = (SELECT max(n) FROM entry)", "the running hash isn't", false},
		"a signature":      {"UPDATE point SET signature = flip(signature) WHERE branch = 1", "not signed by", false},
		"a point's hash":   {"UPDATE point SET hash = flip(hash) WHERE branch = 1", "not signed by", false},
		"a tip":            {"UPDATE branch SET tip_hash = flip(tip_hash) WHERE n = 1", "its tip says", false},
		"an entry gone":    {"DELETE FROM entry WHERE n = (SELECT max(n) FROM entry)", "entries are stored", false},
		"a point gone":     {"DELETE FROM point WHERE branch = 1", "isn't signed", false},
		"a status":         {"UPDATE entry SET status = 1 WHERE status = 3", "its row says", true},
		"a kind":           {"UPDATE entry SET kind = 3 WHERE n = (SELECT max(n) FROM entry)", "its row says", true},
		"a state":          {"UPDATE record SET state = flip(state) WHERE state IS NOT NULL AND conflicts > 0", "its state isn't", true},
		"a count":          {"UPDATE record SET conflicts = 0", "its row says", true},
		"a visibility":     {"UPDATE record SET visibility = (visibility + 1) % 3 WHERE retirements > 0", "its row says", true},
		"no visibility":    {"UPDATE record SET visibility = -1 WHERE retirements > 0", "damaged", true},
		"a reference":      {"DELETE FROM ref", "isn't indexed", true},
		"one too many":     {"INSERT INTO ref SELECT max(n), max(n), 1 FROM record", "references are indexed", true},
		"words":            {"DELETE FROM words WHERE rowid = (SELECT max(id) FROM words_docsize)", "search index", true},
		"the state hash":   {"UPDATE meta SET value = flip(value) WHERE key = '=fold'", "the state hash is", true},
		"a record's id":    {"UPDATE record SET id = flip(id) WHERE conflicts > 0", "its row says", true},
		"a log's identity": {"UPDATE log SET genesis = (SELECT genesis FROM log ORDER BY n LIMIT 1) WHERE n = 2", "isn't the one that the log", false},
	} {
		t.Run(what, func(t *testing.T) {
			w := soundWorld()
			s := storeOf(t, w)
			s.append(t, all(w)...)
			check(t, s.indexKind(ctx, 0))
			report, err := s.Verify(ctx, nil)
			if err != nil || len(report.Faults) > 0 || report.Entries != len(w.Facts) || report.Points == 0 || report.Records == 0 {
				t.Fatalf("before: %+v, %v", report, err)
			}
			s.damage(t, c.damage)
			report, err = s.Verify(ctx, nil)
			if err != nil || !strings.Contains(strings.Join(report.Faults, "\n"), c.finds) {
				t.Errorf("found %q, %v, want something with %q", report.Faults, err, c.finds)
			}
			if !c.rebuilt {
				return
			}
			check(t, s.Rebuild(ctx))
			if report, err = s.Verify(ctx, nil); err != nil || len(report.Faults) > 0 {
				t.Errorf("rebuilt: %q, %v", report.Faults, err)
			}
			same(t, "rebuilt", s.dump(t), dumpOf(w.Read(w.Facts...)))
		})
	}
}

package node

import (
	"cmp"
	"maps"
	"strings"

	"plumbline/sync/entry"
)

// kept is what the overview keeps of a prospect. A staff of many years has tens of
// thousands, and all of them stay in memory: so it is a fraction of what a summary
// takes that was just read. It never changes.
type kept struct {
	id        entry.RecordID
	title     string
	values    few[any] // all but who has had a look; a map among them is a few
	texts     few[string]
	seen      *lookers
	conflicts int
	hidden    bool
}

// lookers are people who had a look: by their ids, in order, and as they are called.
type lookers struct {
	ids   []string
	names []any
}

// seenBy is under which name expressions find who has had a look.
const seenBy = "seen_by"

// keep returns the row of a summary. What it has in common with other rows it shares.
func (s *sharing) keep(id entry.RecordID, from summary, names map[string]string) *kept {
	name, _ := from.Vars["name"].(string)
	conflicts, _ := from.Vars["conflicts"].(int64)
	return &kept{
		id: id, title: cmp.Or(name, shortID(id)), conflicts: int(conflicts), hidden: from.Hidden,
		values: fewOf(s, from.Vars, s.value), texts: fewOf(s, from.Texts, s.text), seen: s.called(from.SeenBy, names),
	}
}

func (s *sharing) text(t string) string { return s.value(t).(string) }

// called returns people with their names.
func (s *sharing) called(ids []string, names map[string]string) *lookers {
	key := strings.Join(ids, " ")
	if had, ok := s.seen[key]; ok {
		return had
	}
	set := map[string]bool{}
	for _, id := range ids {
		set[names[id]] = true
	}
	made := &lookers{ids: ids, names: texts(sortedKeys(set))}
	s.seen[key] = made
	return made
}

// renamed returns the row with people as they are called by now.
func (k *kept) renamed(s *sharing, names map[string]string) *kept {
	anew := *k
	anew.seen = s.called(k.seen.ids, names)
	return &anew
}

func (k *kept) listed() listed {
	return listed{id: k.id, title: k.title, kept: k, conflicts: k.conflicts, hidden: k.hidden}
}

// value returns what stands under a name; nil for nothing.
func (k *kept) value(name string) any {
	if k == nil {
		return nil
	}
	if name == seenBy {
		return k.seen.names
	}
	v, _ := k.values.at(name)
	return v
}

// all returns everything in a map of its own.
func (l listed) all() map[string]any {
	all := map[string]any{}
	if l.kept != nil {
		for name := range l.kept.values.all() {
			all[name] = l.at(name)
		}
		all[seenBy] = l.at(seenBy)
	}
	maps.Copy(all, l.vars)
	return all
}

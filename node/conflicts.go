package node

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Conflicts returns what only a person can settle; of one record if ref is
// given.
func (n *Node) Conflicts(ctx context.Context, ref string) ([]Conflict, error) {
	if err := n.staffed(); err != nil {
		return nil, err
	}
	r := n.reader(ctx)
	var leaders []entry.RecordID
	if ref == "" {
		var err error
		if leaders, err = r.suspects(); err != nil {
			return nil, err
		}
	} else {
		g, err := r.find(0, ref)
		if err != nil {
			return nil, err
		}
		leaders = []entry.RecordID{g.leader}
	}
	var all []Conflict
	for _, id := range leaders {
		if g, ok := r.group(id); ok {
			all = append(all, r.conflictsOf(g)...)
		}
	}
	for _, p := range r.groups.Torn {
		if ref == "" || r.groups.Leader(p.A) == leaders[0] {
			all = append(all, r.torn(p))
		}
	}
	return all, r.err
}

// suspects returns the records that may hold a conflict, by groups: those with
// one in a record of their own, those in dispute, and joined ones.
func (r *reader) suspects() ([]entry.RecordID, error) {
	leaders := r.groups.Leaders()
	for _, k := range record.Stored().Kinds() {
		for _, q := range []storage.Query{{Kind: k.Number, Conflicted: true}, {Kind: k.Number, Disputed: true}} {
			for row, err := range r.n.store.Records(r.ctx, q) {
				if err != nil {
					return nil, err
				}
				leaders = append(leaders, r.groups.Leader(row.ID))
			}
		}
	}
	slices.Sort(leaders)
	return slices.Compact(leaders), nil
}

func (r *reader) conflictsOf(g group) []Conflict {
	if g.visibility() == merge.Hidden {
		return nil
	}
	base := Conflict{Record: g.leader, Kind: kindName(g.leader), Title: r.title(g.leader), Owner: r.owner(g.leader)}
	var all []Conflict
	for _, reg := range g.union.Conflicts() {
		c := base
		c.About, c.Field, c.Ancestor = "field", r.field(g, reg), r.ancestor(g, reg)
		c.Advice = fmt.Sprintf("plumbline settle %s %s --choose ID, or --value TEXT", g.leader, c.Field.Name)
		all = append(all, c)
	}
	if g.visibility() == merge.Disputed {
		c := base
		c.About, c.AsOf = "retirement", r.asOf(g)
		c.Unread = r.disputing(g)
		c.Advice = fmt.Sprintf("retired by %s without having read everything on it: plumbline keep %s, or plumbline retire %s", r.retiredBy(g), g.leader, g.leader)
		all = append(all, c)
	}
	return all
}

// retiredBy names those whose retirement of a group stands, with the day.
func (r *reader) retiredBy(g group) string {
	var by []string
	for _, m := range g.members {
		retired, err := r.n.store.Retiring(r.ctx, m.ID)
		if err != nil {
			r.fail(err)
		}
		for _, e := range retired {
			by = append(by, r.signed(e))
		}
	}
	return strings.Join(by, ", ")
}

// signed says who wrote an entry, and when by their clock.
func (r *reader) signed(e storage.HistoryEntry) string {
	return fmt.Sprintf("%s (%s)", r.author(e.ID.Log).Name, time.UnixMilli(e.Header.Wall).Format("2006-01-02 15:04"))
}

func (r *reader) torn(p merge.Pair) Conflict {
	said := r.said(p.A, p.B)
	ids := make([]string, len(said))
	for i, v := range said {
		ids[i] = v.ID.String()
	}
	return Conflict{
		About: "same", Record: p.A, Kind: kindName(p.A), Title: r.ownName(p.A), Other: p.B, OtherTitle: r.ownName(p.B), Said: said,
		Advice: fmt.Sprintf("%s and %s are joined by way of others but said to be apart: plumbline same %s %s --seen %s, or with --apart",
			p.A, p.B, p.A, p.B, strings.Join(ids, ",")),
	}
}

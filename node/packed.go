package node

import (
	"maps"
	"slices"
	"strings"

	"plumbline/node/query"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// packedKinds are those of which there may be very many, with titles made of
// what packs hold.
var packedKinds = []entry.Kind{record.Look, record.Rep, record.Evaluation, record.Game, record.Flag, record.Assignment}

// question is a listing that is answered from packs. What it finds is what
// reading each record finds: both ask the same of the same values, one once for
// each record, the other once for each value there is.
type question struct {
	r       *reader
	k       *record.Kind
	retired bool
	limit   int
	terms   []*term // all of which have to be so
	order   []ordering
	titling map[string]*facet
	facets  []*facet                // each of these facets once
	apart   map[storage.Number]bool // records that are one with others: answered one by one

	kept  []storage.Number // what the terms keep; the facets hold its values
	whole []storage.Number // records to be asked one by one
}

// ask prepares a question; false when packs can't answer it.
func (r *reader) ask(k *record.Kind, q ListQuery, program *query.Program) (*question, bool) {
	if !slices.Contains(packedKinds, k.Number) || q.Search != "" {
		return nil, false
	}
	a := &question{r: r, k: k, retired: q.Hidden, limit: q.Limit, titling: map[string]*facet{}, apart: map[storage.Number]bool{}}
	all := facetsOf(k)
	use := func(names map[string]bool, kept bool) []*facet {
		var used []*facet
		for _, name := range slices.Sorted(maps.Keys(names)) {
			f := all[name]
			used = append(used, f)
			if f == nil {
				continue // the keys of a map are many columns
			}
			f.keeps = f.keeps || kept
			if !slices.Contains(a.facets, f) {
				a.facets = append(a.facets, f)
			}
		}
		return used
	}
	if program != nil {
		for _, part := range program.Parts() {
			a.terms = append(a.terms, &term{program: part, facets: use(names(part.Uses()), false)})
		}
	}
	for _, name := range q.Sort {
		a.order = append(a.order, ordering{facet: use(names([]string{name}), true)[0], name: strings.TrimPrefix(name, "-"), down: strings.HasPrefix(name, "-")})
	}
	for _, name := range titleFields[k.Number] {
		a.titling[name] = use(names([]string{name}), true)[0]
	}
	missing := slices.ContainsFunc(a.terms, func(t *term) bool { return slices.Contains(t.facets, nil) }) ||
		slices.ContainsFunc(a.order, func(o ordering) bool { return o.facet == nil })
	return a, !missing
}

// facetsOf returns what packs hold of a kind, by the names that expressions use.
func facetsOf(k *record.Kind) map[string]*facet {
	all := map[string]*facet{
		"by": newFacet(column{about: ofPerson}, record.Register{}), "conflicts": newFacet(column{about: ofConflicts}, record.Register{}),
	}
	for _, f := range k.Fields() {
		if !f.IsMap() {
			known := record.Must(k.Number, f.Name)
			all[f.Name] = newFacet(column{Register: known.Address()}, known)
		}
	}
	return all
}

// answer goes through all packs of the kind. Those that aren't there are made
// before, and one of which a record changes meanwhile in between.
func (a *question) answer() error {
	if err := a.r.n.pack(a.r.ctx, a.k.Number, false); err != nil {
		return err
	}
	if a.k.Number != record.Game {
		if err := a.r.n.recallTitles(a.r.ctx); err != nil {
			return err
		}
	}
	parts := make([]string, len(a.facets))
	for i, f := range a.facets {
		parts[i] = f.column.part()
	}
	packs, mark, err := a.r.n.store.Packs(a.r.ctx, a.k.Number, parts)
	if err != nil {
		return err
	}
	if err := a.setApart(); err != nil {
		return err
	}
	made := map[storage.Number]storage.Pack{}
	for _, p := range packs {
		a.makeRoom(len(packs) * storage.PackSize)
		slots, ok := readSlots(p.Head)
		if !ok {
			anew, err := a.r.n.makePack(a.r.ctx, p.First)
			if err != nil {
				return err
			}
			made[p.First] = anew
			slots, _ = readSlots(anew.Head)
			for i, part := range parts {
				p.Parts[i] = anew.Parts[part]
			}
		}
		if err := a.take(p.First, slots, p.Parts); err != nil {
			return err
		}
	}
	_, err = a.r.n.store.OfferPacks(a.r.ctx, mark, made)
	if storage.RefusedByDisk(err) {
		return nil // nothing is wrong with the answer: whoever asks next makes them, too
	}
	return err
}

// makeRoom makes room for all records at once where many are kept: growing bit
// by bit takes several times as much.
func (a *question) makeRoom(records int) {
	if cap(a.kept) >= records || len(a.terms) > 0 && len(a.kept) < records/16 {
		return
	}
	a.kept = slices.Grow(a.kept, records-len(a.kept))
	for _, f := range a.facets {
		if f.keeps {
			f.kept = slices.Grow(f.kept, records-len(f.kept))
		}
	}
}

// setApart finds the records that are one with others.
func (a *question) setApart() error {
	for _, leader := range a.r.groups.Leaders() {
		if leader.Kind() != a.k.Number {
			continue
		}
		for _, m := range a.r.groups.Members(leader) {
			n, held, err := a.r.n.store.NumberOf(a.r.ctx, m)
			if err != nil {
				return err
			}
			if held {
				a.apart[n] = true
			}
		}
	}
	return nil
}

// take answers for the records of one pack. The columns are those of the facets.
func (a *question) take(first storage.Number, slots []byte, columns [][]byte) error {
	whole := false
	for i, f := range a.facets {
		whole = !f.load(columns[i]) || whole
	}
	for slot, shows := range slots {
		if shows == 0 || merge.Visibility(shows-1) == merge.Hidden && !a.retired {
			continue
		}
		n := first + storage.Number(slot)
		if whole || len(a.apart) > 0 && a.apart[n] {
			a.whole = append(a.whole, n)
			continue
		}
		keep, err := a.keep(slot)
		if err != nil {
			return err
		}
		if keep {
			a.kept = append(a.kept, n)
			for _, f := range a.facets {
				f.keep(slot)
			}
		}
	}
	return nil
}

// keep asks all terms, as && does: an error counts unless one of them says no.
func (a *question) keep(slot int) (bool, error) {
	var failed error
	for _, t := range a.terms {
		yes, err := t.holds(a.r, slot)
		switch {
		case err != nil:
			failed = err
		case !yes:
			return false, nil
		}
	}
	return failed == nil, failed
}

// pilePacked answers a listing from packs: what is picked is read, and sorted as
// all lists are.
func (r *reader) pilePacked(a *question, p *pile, keep func(listed) (bool, error), looks map[string]bool) error {
	if err := a.answer(); err != nil {
		return err
	}
	everything := func(listed) (bool, error) { return true, nil }
	if err := r.pileNumbered(p, a.first(), a.retired, everything, looks); err != nil {
		return err
	}
	before := p.total
	if err := r.pileNumbered(p, a.whole, a.retired, keep, looks); err != nil {
		return err
	}
	p.total += len(a.kept) - before
	return r.err
}

// readAtOnce is how many records are read at once of those that are picked.
const readAtOnce = 512

// pileNumbered lists the records with these numbers.
func (r *reader) pileNumbered(p *pile, numbers []storage.Number, retired bool, keep func(listed) (bool, error), looks map[string]bool) error {
	for some := range slices.Chunk(numbers, readAtOnce) {
		rows, err := r.n.store.At(r.ctx, some)
		if err != nil {
			return err
		}
		for _, n := range some {
			if row, ok := rows[n]; ok {
				if err := r.pileOne(p, row, retired, keep, looks); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

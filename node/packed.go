package node

import (
	"cmp"
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
	program *query.Program // nil for all
	sort    []string
	facets  []*facet // of what the program and the order look at
	titling map[string]*facet
	person  *facet
	answers answers
	apart   map[storage.Number]bool // records that are one with others: answered one by one
	picked  picks
	total   int
}

// ask prepares a question; false when packs can't answer it.
func (r *reader) ask(k *record.Kind, q ListQuery, program *query.Program) (*question, bool) {
	if !slices.Contains(packedKinds, k.Number) || q.Search != "" {
		return nil, false
	}
	a := &question{r: r, k: k, retired: q.Hidden, program: program, sort: q.Sort, titling: map[string]*facet{}, apart: map[storage.Number]bool{}}
	a.person = newFacet(column{about: ofPerson}, record.Register{})
	a.picked = picks{limit: q.Limit, sort: q.Sort}
	all := map[string]*facet{"by": a.person, "conflicts": newFacet(column{about: ofConflicts}, record.Register{})}
	for _, f := range k.Fields() {
		if !f.IsMap() {
			known := record.Must(k.Number, f.Name)
			all[f.Name] = newFacet(column{Register: known.Address()}, known)
		}
	}
	var uses []string
	if program != nil {
		uses = program.Uses()
	}
	for _, name := range slices.Sorted(maps.Keys(names(uses, q.Sort))) {
		f := all[name]
		if f == nil {
			return nil, false // the keys of a map are many columns
		}
		a.facets = append(a.facets, f)
	}
	for _, name := range titleFields[k.Number] {
		a.titling[name] = all[name]
	}
	return a, true
}

// answer goes through all packs of the kind, and makes those anew that aren't
// there.
func (a *question) answer() error {
	packs, mark, err := a.r.n.store.Packs(a.r.ctx, a.k.Number)
	if err != nil {
		return err
	}
	if err := a.setApart(); err != nil {
		return err
	}
	made := map[storage.Number][]byte{}
	for _, stored := range packs {
		p, ok := readPack(stored.First, stored.Data)
		if stored.Data == nil || !ok {
			rows, err := a.r.n.store.Packed(a.r.ctx, stored.First)
			if err != nil {
				return err
			}
			made[stored.First] = packRecords(stored.First, rows)
			p, _ = readPack(stored.First, made[stored.First])
		}
		if err := a.take(&p); err != nil {
			return err
		}
	}
	return a.r.n.store.PutPacks(a.r.ctx, mark, made)
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

// take answers for the records of one pack.
func (a *question) take(p *packed) error {
	codes := make([][storage.PackSize]uint32, len(a.facets))
	for i, f := range a.facets {
		var ok bool
		if codes[i], ok = f.codes(p); !ok {
			return a.takeAll(p)
		}
	}
	titling := map[string]*[storage.PackSize]uint32{}
	for name, f := range a.titling {
		all, ok := f.codes(p)
		if !ok {
			return a.takeAll(p)
		}
		titling[name] = &all
	}
	persons, _ := a.person.codes(p)
	key := make([]uint32, len(a.facets))
	for slot := range storage.PackSize {
		v, ok := p.visibility(slot)
		if !ok || v == merge.Hidden && !a.retired {
			continue
		}
		n := p.first + storage.Number(slot)
		if len(a.apart) > 0 && a.apart[n] {
			a.picked.whole = append(a.picked.whole, n)
			continue
		}
		for i := range codes {
			key[i] = codes[i][slot]
		}
		answer, err := a.judge(key)
		if err != nil {
			return err
		}
		if !answer.keep {
			continue
		}
		a.total++
		a.pick(n, answer, slot, titling, persons[slot])
	}
	return nil
}

// takeAll leaves the records of a pack that lacks a column to be read.
func (a *question) takeAll(p *packed) error {
	for slot := range storage.PackSize {
		if v, ok := p.visibility(slot); ok && (v != merge.Hidden || a.retired) {
			a.picked.whole = append(a.picked.whole, p.first+storage.Number(slot))
		}
	}
	return nil
}

// pick notes a record that is kept, unless enough come before it.
func (a *question) pick(n storage.Number, answer *judged, slot int, titling map[string]*[storage.PackSize]uint32, person uint32) {
	code := func(field string) uint32 { return titling[field][slot] }
	text := func(field string) string { return a.titling[field].shown(a.r, code(field)) }
	one := pick{n: n, keys: answer.keys}
	if last := a.picked.last; last != nil {
		c := compareKeys(a.sort, one.keys, last.keys)
		if c > 0 || c == 0 && beyond(titleLead(a.k.Number, text), last.title) {
			return
		}
	}
	one.title = composeTitle(a.k.Number, text, func(field string) string {
		if to := a.titling[field].refers(code(field)); to.Valid() {
			return a.r.title(to)
		}
		return ""
	}, func() string { s, _ := a.person.plain(a.r, person).(string); return s })
	a.picked.add(one)
}

// beyond reports whether every title that begins like this comes after another.
func beyond(lead, title string) bool {
	return lead != "" && lead > title[:min(len(lead), len(title))]
}

// judged is what a question makes of one combination of values.
type judged struct {
	keep bool
	keys []sortKey
}

// answers holds them: by pairs of numbers, each combination of values gets a
// number of its own.
type answers struct {
	pairs map[[2]uint32]uint32
	all   []*judged
}

func (s *answers) number(codes []uint32) uint32 {
	n := uint32(0)
	for _, code := range codes {
		pair := [2]uint32{n, code}
		next, ok := s.pairs[pair]
		if !ok {
			next = uint32(len(s.pairs)) + 1
			s.pairs[pair] = next
		}
		n = next
	}
	return n
}

func (a *question) judge(codes []uint32) (*judged, error) {
	if a.answers.pairs == nil {
		a.answers.pairs = map[[2]uint32]uint32{}
	}
	n := int(a.answers.number(codes))
	if n < len(a.answers.all) && a.answers.all[n] != nil {
		return a.answers.all[n], nil
	}
	l := listed{vars: map[string]any{}}
	for i, f := range a.facets {
		if v := f.plain(a.r, codes[i]); v != nil {
			l.vars[f.name()] = v
		}
	}
	j := &judged{keep: true}
	if a.program != nil {
		var err error
		if j.keep, err = match(a.program, l.vars); err != nil {
			return nil, err
		}
	}
	for _, name := range a.sort {
		j.keys = append(j.keys, sortKeyOf(l.at(strings.TrimPrefix(name, "-"))))
	}
	for len(a.answers.all) <= n {
		a.answers.all = append(a.answers.all, nil)
	}
	a.answers.all[n] = j
	return j, nil
}

// pick is a record that is kept, before it is read.
type pick struct {
	n     storage.Number
	keys  []sortKey
	title string
}

// picks holds the first of them, and those that tie with the last of these:
// only their ids tell which comes first. whole are records to be asked one by one.
type picks struct {
	sort  []string
	limit int
	all   []pick
	full  int // cut again at this length
	last  *pick
	whole []storage.Number
}

func (p *picks) compare(a, b pick) int {
	return cmp.Or(compareKeys(p.sort, a.keys, b.keys), strings.Compare(a.title, b.title))
}

func (p *picks) add(one pick) {
	if p.last != nil && p.compare(one, *p.last) > 0 {
		return
	}
	p.all = append(p.all, one)
	if p.limit > 0 && len(p.all) >= max(p.full, 2*p.limit) {
		p.cut()
	}
}

func (p *picks) cut() {
	slices.SortFunc(p.all, p.compare)
	if p.limit == 0 || len(p.all) <= p.limit {
		return
	}
	last := p.all[p.limit-1]
	p.last = &last
	end := p.limit
	for end < len(p.all) && p.compare(p.all[end], last) == 0 {
		end++
	}
	p.all = p.all[:end]
	p.full = 2 * end
}

// pilePacked answers a listing from packs: what is picked is read, and sorted as
// all lists are.
func (r *reader) pilePacked(a *question, p *pile, keep func(listed) (bool, error), looks map[string]bool) error {
	if err := a.answer(); err != nil {
		return err
	}
	a.picked.cut()
	numbers := make([]storage.Number, len(a.picked.all))
	for i, one := range a.picked.all {
		numbers[i] = one.n
	}
	for some := range slices.Chunk(numbers, readAtOnce) {
		rows, err := r.n.store.At(r.ctx, some)
		if err != nil {
			return err
		}
		for _, n := range some {
			if row, ok := rows[n]; ok {
				r.pileOne(p, row, a.retired, func(listed) (bool, error) { return true, nil }, looks)
			}
		}
	}
	for some := range slices.Chunk(a.picked.whole, readAtOnce) {
		rows, err := r.n.store.At(r.ctx, some)
		if err != nil {
			return err
		}
		before := p.total
		for _, n := range some {
			if row, ok := rows[n]; ok {
				if err := r.pileOne(p, row, a.retired, keep, looks); err != nil {
					return err
				}
			}
		}
		a.total += p.total - before
	}
	p.total = a.total
	return r.err
}

// readAtOnce is how many records are read at once of those that are picked.
const readAtOnce = 512

package node

import (
	"cmp"
	"math/bits"
	"slices"
	"strings"

	"plumbline/storage"
)

// ordering is one of the names that a listing is sorted by.
type ordering struct {
	facet *facet
	name  string // may name a part of the value
	down  bool
}

// first returns the records that come first, up to the limit, with those that
// tie with the last of them: only their ids tell which comes first.
func (a *question) first() []storage.Number {
	if a.limit == 0 || len(a.kept) <= a.limit {
		return a.kept
	}
	keys := a.keys()
	bound := smallest(keys, a.limit)
	var first []storage.Number
	var ties []int
	for i, key := range keys {
		switch {
		case key < bound:
			first = append(first, a.kept[i])
		case key == bound:
			ties = append(ties, i)
		}
	}
	for _, i := range a.firstByTitle(ties, a.limit-len(first)) {
		first = append(first, a.kept[i])
	}
	return first
}

// keys gives each record that is kept a number, by which they are sorted.
func (a *question) keys() []uint64 {
	keys, span := make([]uint64, len(a.kept)), uint64(1)
	for _, o := range a.order {
		ranks, count := o.ranks(a.r)
		keys, span = refined(keys, span, func(i int) uint64 { return ranks[o.facet.kept[i]] }, count)
	}
	return keys
}

// refined sorts what keys below span left equal by ranks below count.
func refined(keys []uint64, span uint64, rank func(i int) uint64, count uint64) ([]uint64, uint64) {
	if high, _ := bits.Mul64(span, count); high > 0 {
		there := slices.Compact(slices.Sorted(slices.Values(keys)))
		for i, key := range keys {
			at, _ := slices.BinarySearch(there, key)
			keys[i] = uint64(at)
		}
		span = uint64(len(there))
	}
	for i := range keys {
		keys[i] = keys[i]*count + rank(i)
	}
	return keys, span * count
}

// ranks numbers the values of what is kept in their order, equal ones alike.
func (o ordering) ranks(r *reader) (ranks []uint64, count uint64) {
	f := o.facet
	ranks = make([]uint64, len(f.values))
	for _, code := range f.kept {
		ranks[code] = 1
	}
	_, key, keyed := strings.Cut(o.name, ".")
	type ranked struct {
		code int
		key  sortKey
	}
	var used []ranked
	for code, is := range ranks {
		if is > 0 {
			used = append(used, ranked{code, sortKeyOf(part(f.plain(r, uint32(code)), key, keyed))})
		}
	}
	slices.SortFunc(used, func(a, b ranked) int { return a.key.compare(b.key, o.down) })
	for i, one := range used {
		if i > 0 && used[i-1].key.compare(one.key, o.down) != 0 {
			count++
		}
		ranks[one.code] = count
	}
	return ranks, count + 1
}

// smallest returns the n-th smallest of at least n keys.
func smallest(keys []uint64, n int) uint64 {
	least := slices.Clone(keys[:n])
	slices.Sort(least)
	for _, key := range keys[n:] {
		if key >= least[n-1] {
			continue
		}
		if least = append(least, key); len(least) >= 2*n {
			slices.Sort(least)
			least = least[:n]
		}
	}
	slices.Sort(least)
	return least[n-1]
}

// titled is a record that is kept with its title.
type titled struct {
	at    int // its place in what is kept
	title string
}

// firstByTitle returns those of the records whose titles come first, and those
// that tie with the last of these.
func (a *question) firstByTitle(ties []int, room int) []int {
	if len(ties) <= room {
		return ties
	}
	var all []titled
	last, full := "", 2*room
	for _, i := range ties {
		if last != "" && beyond(titleLead(a.k.Number, a.texts(i)), last) {
			continue
		}
		title := a.title(i)
		if last != "" && title > last {
			continue
		}
		if all = append(all, titled{i, title}); len(all) >= full {
			all = cutTitles(all, room)
			last, full = all[room-1].title, 2*len(all)
		}
	}
	var first []int
	for _, one := range cutTitles(all, room) {
		first = append(first, one.at)
	}
	return first
}

// cutTitles drops what is beyond the room and doesn't tie with the last one.
func cutTitles(all []titled, room int) []titled {
	slices.SortFunc(all, func(a, b titled) int { return cmp.Or(strings.Compare(a.title, b.title), a.at-b.at) })
	end := min(room, len(all))
	for end < len(all) && all[end].title == all[end-1].title {
		end++
	}
	return all[:end]
}

// beyond reports whether every title that begins like this comes after another.
func beyond(lead, title string) bool {
	return lead != "" && lead > title[:min(len(lead), len(title))]
}

func (a *question) texts(i int) func(field string) string {
	return func(field string) string { f := a.titling[field]; return f.shown(a.r, f.kept[i]) }
}

// title is what composing it from the record gives.
func (a *question) title(i int) string {
	return composeTitle(a.k.Number, a.texts(i), func(field string) string {
		f := a.titling[field]
		if to := f.refers(f.kept[i]); to.Valid() {
			return a.r.title(to)
		}
		return ""
	}, func() string { f := a.titling["by"]; s, _ := f.plain(a.r, f.kept[i]).(string); return s })
}

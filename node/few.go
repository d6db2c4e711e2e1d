package node

import (
	"iter"
	"maps"
	"slices"
	"strings"
)

// few is a small map that never changes. With fifteen values it takes a quarter
// of the memory of one that may, and less where many share their names.
type few[V any] struct {
	names  []string // in order
	values []V
}

func (f few[V]) at(name string) (v V, ok bool) {
	i, ok := slices.BinarySearch(f.names, name)
	if ok {
		v = f.values[i]
	}
	return v, ok
}

func (f few[V]) all() iter.Seq2[string, V] {
	return func(yield func(string, V) bool) {
		for i, name := range f.names {
			if !yield(name, f.values[i]) {
				return
			}
		}
	}
}

// sharing finds what is equal in rows that are kept together, so that it takes
// its memory once. It is given up with the last of them.
type sharing struct {
	names  map[string][]string
	values map[any]any
	seen   map[string]*lookers
}

func newSharing() *sharing {
	return &sharing{names: map[string][]string{}, values: map[any]any{}, seen: map[string]*lookers{}}
}

// nothing stands for every empty list, which need no memory of their own.
var nothing = []any{}

// value returns an equal value that takes little memory.
func (s *sharing) value(v any) any {
	switch v := v.(type) {
	case map[string]any:
		return fewOf(s, v, s.value)
	case []any:
		if len(v) == 0 {
			return nothing
		}
		return v
	}
	had, ok := s.values[v]
	if !ok {
		s.values[v], had = v, v
	}
	return had
}

// fewOf returns a map in the small form, with each value as share returns it.
func fewOf[V any](s *sharing, m map[string]V, share func(V) V) few[V] {
	names := slices.Sorted(maps.Keys(m))
	key := strings.Join(names, "\x00")
	if had, ok := s.names[key]; ok {
		names = had
	} else {
		s.names[key] = slices.Clip(names)
	}
	f := few[V]{names: names, values: make([]V, len(names))}
	for i, name := range names {
		f.values[i] = share(m[name])
	}
	return f
}

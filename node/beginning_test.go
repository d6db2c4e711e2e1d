package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// An id that is printed anywhere is found by how it begins: of a record that was
// joined with another one, too, and of one that was retired.
func TestTheBeginningOfAnID(t *testing.T) {
	a := found(t)
	one := a.add("prospect", "name", "Orrin Vale")
	two := a.add("prospect", "name", "Orin Vale")
	for len(a.beginnings(one.String()[:minPrefix])) != 1 || len(a.beginnings(two.String()[:minPrefix])) != 1 {
		two = a.add("prospect", "name", "Orin Vale") // ids are random, and may begin alike
	}
	short := [2]string{one.String()[:minPrefix], two.String()[:minPrefix]}
	_, err := a.Same(t.Context(), short[0], short[1], false)
	require.NoError(t, err)
	for _, typed := range short {
		d, err := a.Get(t.Context(), typed, false, "")
		require.NoError(t, err)
		require.Len(t, d.Record.Members, 2)
	}
	said, err := a.Same(t.Context(), one.String(), two.String(), false)
	require.NoError(t, err)
	_, err = a.Same(t.Context(), short[0], short[1], true, idsOf(said.Said)...)
	require.NoError(t, err)
	a.retire(two.String())
	d, err := a.Get(t.Context(), short[1], false, "")
	require.NoError(t, err)
	require.Equal(t, two, d.Record.ID)
	_, err = a.Get(t.Context(), one.String()[:4], false, "")
	refused(t, err, ErrNotFound)
}

// What begins several ids leads to the record that they are joined to, unless it is
// to say which of them is meant.
func TestABeginningOfAllThatWereJoined(t *testing.T) {
	a := found(t)
	met := map[string]string{} // by what of an id all of a kind have and one character more
	for {
		id := a.add("prospect", "name", "Orrin Vale").String()
		begin := id[:minPrefix]
		other, ok := met[begin]
		met[begin] = id
		if !ok || len(a.beginnings(begin)) != 2 {
			continue
		}
		_, err := a.Get(t.Context(), begin, false, "")
		refused(t, err, ErrAmbiguous)
		_, err = a.Same(t.Context(), id, other, false)
		require.NoError(t, err)
		d, err := a.Get(t.Context(), begin, false, "")
		require.NoError(t, err)
		require.Len(t, d.Record.Members, 2)
		_, err = a.Same(t.Context(), begin, other, true)
		refused(t, err, ErrAmbiguous)
		return
	}
}

func (l *laptop) beginnings(begin string) []string {
	l.t.Helper()
	found, err := l.reader(l.t.Context()).prefixed(0, begin)
	require.NoError(l.t, err)
	var ids []string
	for _, id := range found {
		ids = append(ids, id.String())
	}
	return ids
}

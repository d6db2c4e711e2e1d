package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func (l *laptop) cell(id, column string) any {
	l.t.Helper()
	list, err := l.List(l.t.Context(), ListQuery{Columns: []string{column}})
	require.NoError(l.t, err)
	for _, row := range list.Rows {
		if row.ID.String() == id {
			return row.Cells[0]
		}
	}
	return nil
}

// Who had a look is told by the name that they have now, also where the look
// came over before the name.
func TestWhoHadALookIsToldByTheirNameOfNow(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	a.add("look", "prospect", id.String(), "mode", "film")
	require.Equal(t, []any{"Maren Ostrava"}, a.cell(id.String(), "seen_by"))
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	a.set(personRecord(s.Author.Person), "name", "Maren Ost")
	require.Equal(t, []any{"Maren Ost"}, a.cell(id.String(), "seen_by"))
	d, err := a.Get(t.Context(), id.String())
	require.NoError(t, err)
	require.Equal(t, []any{"Maren Ost"}, d.Summary["seen_by"])
}

// What was read before a change must not be kept as what came of it.
func TestASummaryIsMadeOfWhatStandsWhenItIsMade(t *testing.T) {
	a := found(t)
	first := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	second := a.add("prospect", "name", "Orin Vale")
	r := a.reader(t.Context())
	_, err := r.find(0, first.String())
	require.NoError(t, err)
	a.set(first, "school", "Harbor Point")
	_, err = a.Same(t.Context(), first.String(), second.String(), false)
	require.NoError(t, err)
	_, err = r.prospects(false, func(listed) (bool, error) { return true, nil }, nil)
	require.NoError(t, err)
	l, err := a.List(t.Context(), ListQuery{Columns: []string{"school"}})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1)
	require.Equal(t, "Harbor Point", l.Rows[0].Cells[0])
}

package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What an owned record says in two ways only its owner can settle (ledger rules
// on rights): for everybody else it is counted apart, and named as theirs.
func TestAConflictOnAnOwnedRecordIsItsOwnersToSettle(t *testing.T) {
	director := found(t)
	scout := join(t, director, "Tove Lund", false)
	prospect := scout.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027", "jersey", "71")
	graded := scout.load("evaluation", "name,school,class_year,grades.feet\nOrrin Vale,Salt Lick,2027,5\n")
	require.Empty(t, graded.Errors)
	list, err := scout.List(t.Context(), ListQuery{Kind: "evaluation"})
	require.NoError(t, err)
	scout.set(list.Rows[0].ID, "grades.feet", "6")
	// The list says something new beside what the scout wrote.
	beside := scout.load("evaluation", "name,school,class_year,grades.feet\nOrrin Vale,Salt Lick,2027,8\n")
	require.Equal(t, 1, beside.Conflicts)
	connect(t, director, scout)
	require.Equal(t, [2]int{1, 0}, scout.conflictCounts())
	require.Equal(t, [2]int{1, 1}, director.conflictCounts())
	conflicts, err := director.Conflicts(t.Context(), "")
	require.NoError(t, err)
	require.Equal(t, "Tove Lund", conflicts[0].Owner.Name)
	require.Equal(t, conflicts[0].Record.Person(), conflicts[0].Owner.Person)

	// What everybody may change is nobody's more than another's.
	apartOn(t, director, scout, prospect, "jersey", "72", "73")
	require.Equal(t, [2]int{2, 0}, scout.conflictCounts())
	require.Equal(t, [2]int{2, 1}, director.conflictCounts())
	conflicts, err = director.Conflicts(t.Context(), prospect.String())
	require.NoError(t, err)
	require.Zero(t, conflicts[0].Owner)
}

// conflictCounts are all conflicts, and those that only others may settle.
func (l *laptop) conflictCounts() [2]int {
	l.t.Helper()
	s, err := l.Status(l.t.Context())
	require.NoError(l.t, err)
	return [2]int{s.Conflicts, s.OthersConflicts}
}

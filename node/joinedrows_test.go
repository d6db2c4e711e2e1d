package node

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// joinedSince is a list that was exported before two of its prospects were joined, with
// the rows of these in lines 2 and 3. Invented data.
func joinedSince(t *testing.T) (*laptop, []byte) {
	a := found(t)
	first := a.add("prospect", "name", "Orin Vale", "school", "Salt Lick", "class_year", "2027", "jersey", "71")
	second := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027", "jersey", "72", "hometown", "Low Ridge")
	a.add("prospect", "name", "Pim Rask", "school", "Tin Valley", "class_year", "2027")
	table := a.exported("prospect", "name", "school", "class_year", "jersey", "hometown", "note")
	a.same(first, second, false)
	return a, table
}

// What was left as it was changes nothing, also where two rows are about one prospect by now.
func TestAListOfProspectsWhoWereJoinedSinceIsTaken(t *testing.T) {
	a, table := joinedSince(t)
	before := a.entries()
	r := a.imports(ImportRequest{Data: table})
	require.Empty(t, r.Errors)
	require.Equal(t, [4]int{3, 3, 0, 0}, [4]int{r.Rows, r.Unchanged, r.Changed, r.Added})
	require.Equal(t, before, a.entries())
}

// Two rows of one prospect may edit him, each another field or both alike; where they
// don't agree, both lines and the field are named and nothing is stored.
func TestRowsOfOneProspectMustAgree(t *testing.T) {
	a, table := joinedSince(t)
	edit := func(first, second string) []byte {
		return edited(t, table, func(rows [][]string) [][]string {
			rows[1][in(rows, "note")], rows[2][in(rows, "note")] = first, second
			rows[2][in(rows, "hometown")] = "Marrow Hill"
			return rows
		})
	}
	before := a.entries()
	r := a.imports(ImportRequest{Data: edit("quick feet", "slow feet")})
	require.Equal(t, before, a.entries())
	require.Equal(t, []RowError{{File: "the table", Line: 3, Column: "note", Value: "slow feet",
		Rule: "line 2 says something else about the same prospect, since the two were joined; leave one of them as it was"}}, r.Errors)
	r = a.imports(ImportRequest{Data: edit("quick feet", "quick feet")})
	require.Empty(t, r.Errors)
	require.Equal(t, [2]int{2, 1}, [2]int{r.Changed, r.Conflicts})
	orrin := a.only("Orrin Vale")
	require.Equal(t, []string{"quick feet"}, a.texts(orrin, "note"))
	require.ElementsMatch(t, []string{"Low Ridge", "Marrow Hill"}, a.texts(orrin, "hometown"))
}

// What a row says that is left out for contradicting another is said by nobody yet: a
// third row that says it is taken. Invented data.
func TestARowThatIsLeftOutSpeaksForNoOther(t *testing.T) {
	a := found(t)
	var ids []entry.RecordID
	for _, name := range []string{"Orin Vale", "Orrin Vale", "Orren Vale"} {
		ids = append(ids, a.add("prospect", "name", name, "school", "Salt Lick", "class_year", "2027"))
	}
	table := a.exported("prospect", "name", "school", "class_year", "hometown", "note")
	a.same(ids[0], ids[1], false)
	a.same(ids[1], ids[2], false)
	r := a.imports(ImportRequest{Partial: true, Data: edited(t, table, func(rows [][]string) [][]string {
		note, hometown := in(rows, "note"), in(rows, "hometown")
		rows[1][note] = "quick feet"
		rows[2][note], rows[2][hometown] = "slow feet", "Low Ridge"
		rows[3][hometown] = "Low Ridge"
		return rows
	})})
	require.Len(t, r.Errors, 1)
	require.Equal(t, 3, r.Errors[0].Line)
	require.Equal(t, 2, r.Changed)
	require.Equal(t, []string{"quick feet"}, a.texts(ids[0], "note"))
	require.Equal(t, []string{"Low Ridge"}, a.texts(ids[0], "hometown"))
}

// A row by an id and one by the name that the list knows him by are still one too many.
func TestARowByItsIDAndOneByItsNameAreOneTooMany(t *testing.T) {
	a := found(t)
	a.load("prospect", "name,school,class_year\nOrrin Vale,Salt Lick,2027\n")
	table := string(a.exported("prospect", "name", "school", "class_year")) + ",Orrin Vale,Salt Lick,2027\n"
	r := a.imports(ImportRequest{Data: []byte(table)})
	require.Len(t, r.Errors, 1)
	require.Contains(t, r.Errors[0].Rule, "the same prospect as in line 2")
}

// Where several values stand already, all are named with who wrote them: in the remark
// that a cell is left, and in what is told of one that comes beside them.
func TestAllValuesOfAConflictAreNamed(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027")
	table := a.exported("prospect", "name", "school", "class_year")
	a.set(id, "school", "Dry Creek")
	other := b.add("prospect", "name", "Orrin Vale", "school", "Pell Valley", "class_year", "2027")
	connect(t, a, b)
	agree(t, a, b)
	a.same(id, other, false)
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	both := []string{"Dry Creek (" + s.Author.Name + ")", "Pell Valley (Tove Lund)"}
	r := a.imports(ImportRequest{Data: table})
	require.Len(t, r.Remarks, 1)
	require.Contains(t, r.Remarks[0], "line 2, school: Salt Lick, now ")
	for _, value := range both {
		require.Contains(t, r.Remarks[0], value)
	}
	r = a.imports(ImportRequest{Data: edited(t, table, func(rows [][]string) [][]string {
		rows[1][in(rows, "school")] = a.texts(id, "school")[1]
		return rows
	})})
	require.Equal(t, 1, r.Unchanged)
	require.Len(t, r.Remarks, 1)
	require.Contains(t, r.Remarks[0], "what the table says stands there already, beside other values: line 2, school: ")
	for _, value := range both {
		require.Contains(t, r.Remarks[0], value)
	}
	r = a.imports(ImportRequest{DryRun: true, Data: edited(t, table, func(rows [][]string) [][]string {
		rows[1][in(rows, "school")] = "Low Ridge"
		return rows
	})})
	require.Equal(t, "Low Ridge", r.Records[0].Fields[0].After)
	require.ElementsMatch(t, both, strings.Split(r.Records[0].Fields[0].Before, " / "))
}

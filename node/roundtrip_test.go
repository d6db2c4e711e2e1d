package node

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// odd are texts that a table or a spreadsheet takes for something else: formulas, an
// apostrophe that stands for one, separators, quotes, breaks, spaces, numbers, days.
var odd = []string{
	"=1+1", "'=1+1", "''@x", "- late with his hands", "+", "@Harbor", "'tis", "a,b;c\td", `say "go"`, "one\ntwo\n", "one\r\ntwo", "one\rtwo", "\ttab", "  spaces  ",
	"0012", "1e3", "2026-09-05", "TRUE", "new", "-", "Ren\u00e9", "Rene\u0301", "=", "'", `"`,
}

// tableKinds are the kinds of records that a table can hold.
var tableKinds = []entry.Kind{record.Prospect, record.Measurement, record.Game, record.Rep, record.Evaluation}

// oddWorld is packedWorld with odd texts, values in conflict, prospects who are one
// and some of one name. Invented data.
func oddWorld(t *testing.T) *laptop {
	a, _ := packedWorld(t)
	var ids []entry.RecordID
	for i, text := range odd {
		line := strings.NewReplacer("\n", " ", "\r", " ", "\t", " ").Replace(text)
		name := "Odd One"
		if i%2 == 0 {
			name = line + "."
		}
		id := a.add("prospect", "name", name, "school", "Salt Lick", "class_year", "2027", "hometown", line, "list_id", line, "note", text)
		ids = append(ids, id)
		a.add("game", "date", "2026-10-03", "home", "Salt Lick "+string(rune('A'+i)), "away", "Low Ridge", "note", text)
		a.add("evaluation", "prospect", id.String(), "overall", "6", "grades.hand_use", "5", "summary", text)
	}
	a.add("measurement", "prospect", ids[0].String(), "reading", "arm 334 verified")
	a.same(ids[0], ids[1], false)
	return a
}

// columnsOfKind are those that an export has by itself, and every field of the kind.
func columnsOfKind(t *testing.T, kind entry.Kind) [][]string {
	k, ok := record.Stored().Kind(kind)
	require.True(t, ok)
	var all []string
	for _, f := range k.Fields() {
		all = append(all, f.Name)
	}
	if kind == record.Evaluation {
		return [][]string{nil, all, {"overall", "grades.hand_use"}}
	}
	return [][]string{nil, all}
}

// An export that nobody edited writes nothing when it is read, whatever its values and
// their columns are.
func TestAnExportThatComesBackWritesNothing(t *testing.T) {
	a := oddWorld(t)
	before, err := a.Status(t.Context())
	require.NoError(t, err)
	for _, kind := range tableKinds {
		for _, columns := range columnsOfKind(t, kind) {
			for _, format := range []string{"csv", "xlsx"} {
				name := kindOr(kind, "")
				table, rows, err := a.Export(t.Context(), ExportRequest{Kind: name, Columns: columns, Format: format})
				require.NoError(t, err)
				require.NotZero(t, rows)
				r, err := a.Import(t.Context(), ImportRequest{Kind: name, Data: table, File: name + "." + format})
				require.NoError(t, err, "%s %v", name, columns)
				require.Empty(t, r.Errors[:min(1, len(r.Errors))], "%s %v", name, columns)
				require.Empty(t, r.Namesakes)
				require.NotContains(t, strings.Join(r.Remarks, "\n"), "line ", "nothing was edited")
				require.Equal(t, [4]int{rows, 0, 0, 0}, [4]int{r.Unchanged, r.Added, r.Changed, r.Conflicts}, "%s %v: %+v", name, columns, r.Records)
				after, err := a.Status(t.Context())
				require.NoError(t, err)
				require.Equal(t, [2]any{before.Entries, before.StateHash}, [2]any{after.Entries, after.StateHash}, "%s %v", name, columns)
			}
		}
	}
}

// An export that names no columns holds every field, so that all of it can be edited
// there: what nobody named must not look as if nothing stood there.
func TestAnExportHoldsEveryField(t *testing.T) {
	a := oddWorld(t)
	for _, k := range record.Stored().Kinds() {
		rows, err := csv.NewReader(bytes.NewReader(a.exported(k.Name))).ReadAll()
		require.NoError(t, err)
		for _, f := range k.Fields() {
			if !f.IsMap() || len(rows) > 1 && f.Name == "grades" {
				require.True(t, slices.ContainsFunc(rows[0], func(head string) bool { return head == f.Name || strings.HasPrefix(head, f.Name+".") }), "%s of %s", f.Name, k.Name)
			}
		}
	}

	wes := a.add("prospect", "name", "Wes Tarn", "note", "Late hands.", "jersey", "71", "hometown", "Brell", "list_id", "17")
	want := map[string]string{"note": "Early hands.", "jersey": "72", "hometown": "Marrow Hill", "list_id": "18"}
	r := a.imports(ImportRequest{Data: edited(t, a.exported("prospect"), func(rows [][]string) [][]string {
		at := slices.IndexFunc(rows, func(row []string) bool { return row[0] == wes.String() })
		for field, value := range want {
			rows[at][in(rows, field)] = value
		}
		return [][]string{rows[0], rows[at]}
	})})
	require.Equal(t, [3]int{1, 0, len(want)}, [3]int{r.Changed, r.Added, len(r.Records[0].Fields)}, "%+v", r)
}

// edited is a table of which some cells were changed, as a spreadsheet would.
func edited(t *testing.T, table []byte, edit func(rows [][]string) [][]string) []byte {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, csv.NewWriter(&out).WriteAll(edit(rows)))
	return out.Bytes()
}

func (l *laptop) exported(kind string, columns ...string) []byte {
	l.t.Helper()
	table, _, err := l.Export(l.t.Context(), ExportRequest{Kind: kind, Columns: columns})
	require.NoError(l.t, err)
	return table
}

// in finds the column of a head in a table's rows.
func in(rows [][]string, head string) int { return slices.Index(rows[0], head) }

func (l *laptop) entries() uint64 {
	l.t.Helper()
	s, err := l.Status(l.t.Context())
	require.NoError(l.t, err)
	return s.Entries
}

func (l *laptop) imports(q ImportRequest) ImportReport {
	l.t.Helper()
	q.Kind = "prospect"
	r, err := l.Import(l.t.Context(), q)
	require.NoError(l.t, err)
	return r
}

func (l *laptop) listed(where string) int {
	l.t.Helper()
	list, err := l.List(l.t.Context(), ListQuery{Where: where})
	require.NoError(l.t, err)
	return list.Total
}

// What was edited in an export is written to the records that it came from, also where
// it was the name by which the list knows them: nobody is entered twice.
func TestAnEditedExportChangesItsRecords(t *testing.T) {
	a := found(t)
	a.load("prospect", "list_id,name,school,class_year,jersey,hometown\n17,Orrin Vale,Salt Lick,2027,71,Low Ridge\n18,Pim Rask,Salt Lick,2027,62,\n")
	orrin, pim := a.only("Orrin Vale"), a.only("Pim Rask")
	a.set(orrin, "hometown", "Marrow Hill")
	table := a.exported("prospect", "name", "school", "jersey", "hometown")
	r := a.imports(ImportRequest{Data: edited(t, table, func(rows [][]string) [][]string {
		for _, row := range rows[1:] {
			if row[0] == orrin.String() {
				row[in(rows, "name")], row[in(rows, "jersey")], row[in(rows, "hometown")] = "Orrin P. Vale", "72", "Tin Valley"
			} else {
				row[in(rows, "jersey")] = ""
			}
		}
		return append(rows, []string{"", "Ada Nye", "Salt Lick", "11", ""})
	})})
	require.Len(t, r.Errors, 1, "the row without an id lacks the class year that names it")
	require.Equal(t, 4, r.Errors[0].Line)
	require.True(t, r.DryRun)

	r = a.imports(ImportRequest{Partial: true, Data: edited(t, table, func(rows [][]string) [][]string {
		for _, row := range rows[1:] {
			if row[0] == orrin.String() {
				row[in(rows, "name")], row[in(rows, "jersey")], row[in(rows, "hometown")] = "Orrin P. Vale", "72", "Tin Valley"
			} else {
				row[in(rows, "jersey")] = ""
			}
		}
		return rows
	})})
	require.Empty(t, r.Errors)
	require.Equal(t, [4]int{0, 1, 1, 1}, [4]int{r.Added, r.Changed, r.Unchanged, r.Conflicts})
	require.Equal(t, 2, a.listed("true"))
	require.Equal(t, []string{"Orrin P. Vale"}, a.texts(orrin, "name"))
	require.Equal(t, []string{"72"}, a.texts(orrin, "jersey"), "the list's own value is replaced")
	require.ElementsMatch(t, []string{"Marrow Hill", "Tin Valley"}, a.texts(orrin, "hometown"), "what a person wrote isn't")
	require.Equal(t, []string{"62"}, a.texts(pim, "jersey"))
	require.Len(t, r.Remarks, 1)
	require.Contains(t, r.Remarks[0], "an empty cell clears nothing: line 3, jersey: 62.")
}

// A number that was edited in an export is told and left, since it has no source there;
// with one it is entered beside the others, for the prospect whose id the row gives.
func TestANumberInAnExportNeedsItsSource(t *testing.T) {
	a := found(t)
	a.load("prospect", class)
	table := a.exported("prospect", "name", "height", "arm", "forty")
	require.NotContains(t, strings.Join(a.imports(ImportRequest{Data: table}).Remarks, "\n"), "here")
	edit := func(rows [][]string) [][]string {
		for _, row := range rows[1:] {
			if row[in(rows, "name")] == "Orrin Vale" {
				row[in(rows, "arm")], row[in(rows, "height")] = "336", ""
			}
		}
		return rows
	}
	before := a.entries()
	r := a.imports(ImportRequest{Data: edited(t, table, edit)})
	require.Equal(t, before, a.entries())
	require.Len(t, r.Remarks, 2)
	require.Contains(t, r.Remarks[1], "a number needs its source and an export has chosen one among several: line 2, height: empty, here 6046; line 2, arm: 336, here 334.")
	r = a.imports(ImportRequest{Data: edited(t, table, edit), Defaults: map[string]string{"source": "listed", "date": "2026-08-01"}})
	require.Empty(t, r.Errors)
	require.Equal(t, 1, r.Added, "the other numbers are there as they are: %+v", r.Records)
	require.Equal(t, 2, a.listed("true"))
}

// A table that was exported before somebody changed a record says what stood there: that
// is no edit, whoever wrote it, and it is told.
func TestAnOldExportTakesNothingBack(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027", "jersey", "71")
	table := a.exported("prospect", "name", "school", "class_year", "jersey")
	a.set(id, "jersey", "72")
	before := a.entries()
	r := a.imports(ImportRequest{Data: table})
	require.Equal(t, [3]int{0, 0, 1}, [3]int{r.Added, r.Changed, r.Unchanged})
	require.Equal(t, before, a.entries())
	require.Len(t, r.Remarks, 1)
	require.Contains(t, r.Remarks[0], "what stood there before somebody changed it: line 2, jersey: 71, now 72.")
}

// Of several records that are one an export has one row, which is about all of them.
func TestARowOfJoinedRecordsIsAboutAllOfThem(t *testing.T) {
	a := found(t)
	first := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "jersey", "71")
	second := a.add("prospect", "name", "Orin Vale", "school", "Salt Lick", "jersey", "72", "hometown", "Low Ridge")
	a.same(first, second, false)
	a.settle(first, "jersey", "73")
	table := a.exported("prospect", "name", "school", "jersey", "hometown")
	before := a.entries()
	r := a.imports(ImportRequest{Data: table})
	require.Equal(t, [3]int{0, 0, 1}, [3]int{r.Added, r.Changed, r.Unchanged})
	require.Equal(t, before, a.entries())
	r = a.imports(ImportRequest{Data: edited(t, table, func(rows [][]string) [][]string {
		rows[1][in(rows, "hometown")] = "Tin Valley"
		return append(rows, slices.Clone(rows[1]))
	})})
	require.Len(t, r.Errors, 1)
	require.Contains(t, r.Errors[0].Rule, "the same prospect as in line 2")
	edit := edited(t, table, func(rows [][]string) [][]string {
		rows[1][in(rows, "hometown")] = "Tin Valley"
		return rows
	})
	r = a.imports(ImportRequest{Data: edit})
	require.Equal(t, 1, r.Conflicts)
	r = a.imports(ImportRequest{Data: edited(t, edit, func(rows [][]string) [][]string {
		rows[1][in(rows, "hometown")] = "Marrow Hill"
		return rows
	})})
	require.Equal(t, 1, r.Conflicts)
	g, ok := a.reader(t.Context()).group(first)
	require.True(t, ok)
	require.Len(t, g.union.Find(record.Must(record.Prospect, "hometown").Address()).Live, 2, "the list's last value beside the person's")
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	agree(t, a, b)
}

// A row that gives an id which isn't here is entered under it, so that it is one with
// the other one's record; not where it says too little, nor where another has the name.
func TestAnExportReadElsewhereKeepsItsIDs(t *testing.T) {
	a, b := found(t), found(t)
	a.load("prospect", "name,school,class_year\nOrrin Vale,Salt Lick,2027\nPim Rask,Salt Lick,2027\n")
	here := b.add("prospect", "name", "Vale, Orrin", "school", "Salt Lick")
	r := b.imports(ImportRequest{Data: a.exported("prospect", "name", "school")})
	require.Len(t, r.Errors, 2)
	require.Contains(t, r.Errors[0].Rule, "no prospect has this id")
	require.Contains(t, r.Errors[0].Rule, "columns that name them")
	r = b.imports(ImportRequest{Data: []byte("record,name,school,class_year\n7-2,Ada Nye,Tin Valley,2027\n")})
	require.Len(t, r.Errors, 1)
	require.Equal(t, [2]string{"record", "7-2"}, [2]string{r.Errors[0].Column, r.Errors[0].Value})
	require.Contains(t, r.Errors[0].Rule, "no id of a prospect, as an export writes it; leave the column out")
	table := a.exported("prospect", "name", "school", "class_year")
	r = b.imports(ImportRequest{Data: table})
	require.True(t, r.DryRun)
	require.Equal(t, []Namesake{{Line: 2, Row: "Orrin Vale, Salt Lick, 2027", Record: here, Standing: "Vale, Orrin, Salt Lick"}}, r.Namesakes)
	r = b.imports(ImportRequest{Data: table, Namesakes: MatchNamesakes})
	require.Equal(t, [2]int{1, 1}, [2]int{r.Added, r.Changed})
	require.Equal(t, a.only("Pim Rask"), b.only("Pim Rask"))
	require.Contains(t, r.Remarks[len(r.Remarks)-1], "entered under the ids that the table gives, since they aren't here yet: line 3: Pim Rask")
	require.Equal(t, 2, b.listed("true"))
}

// Rows by the name of one who is here are asked about before anything is written, and
// neither taken for him nor entered beside him by themselves: two may share a name.
func TestARowWithANameThatIsHereIsAskedAbout(t *testing.T) {
	a := found(t)
	orrin := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027", "position", "guard")
	a.add("measurement", "prospect", orrin.String(), "reading", "arm 334 verified 2026-08-01")
	a.add("prospect", "name", "Pim Rask", "school", "Tin Valley", "class_year", "2027")
	const list = "list_id,name,position,school,class_year,arm,source,date\n" +
		"17,Orrin Vale Jr.,tackle,salt lick,2027,334,verified,2026-08-01\n" + // whatever the suffix and the position
		"18,Pim Rask,,Salt Lick,2027,,,\n" + // another school
		"19,Orrin Vale,,Salt Lick,2028,,,\n" // another class
	before := a.entries()
	for _, dry := range []bool{true, false} {
		r := a.imports(ImportRequest{Data: []byte(list), DryRun: dry})
		require.True(t, r.DryRun)
		require.Equal(t, 1, r.NamesakeRows)
		require.Equal(t, []Namesake{{Line: 2, Row: "Orrin Vale Jr., tackle, salt lick, 2027", Record: orrin, Standing: "Orrin Vale, guard, Salt Lick, 2027"}}, r.Namesakes)
		require.Equal(t, before, a.entries())
	}
	r := a.imports(ImportRequest{Data: []byte(list), DryRun: true, Partial: true})
	require.Equal(t, [2]int{2, 1}, [2]int{r.Added, r.Skipped})
	r = a.imports(ImportRequest{Data: []byte(list), DryRun: true, Namesakes: NewNamesakes})
	require.Equal(t, 4, r.Added, "three prospects and the number")
	r = a.imports(ImportRequest{Data: []byte(list), Namesakes: MatchNamesakes})
	require.Equal(t, [4]int{2, 1, 1, 3}, [4]int{r.Added, r.Changed, r.Unchanged, r.Conflicts}, "the number is there already")
	require.Equal(t, 4, a.listed("true"))
	require.ElementsMatch(t, []string{"Orrin Vale", "Orrin Vale Jr."}, a.texts(orrin, "name"))

	r = a.imports(ImportRequest{Data: []byte("record,list_id,name,school,class_year\nnew,20,Orrin Vale,Salt Lick,2027\n")})
	require.Equal(t, 1, r.Added, "the row says that it is another one")
	r = a.imports(ImportRequest{Data: []byte("list_id,name,school,class_year\n21,Orrin Vale,Salt Lick,2027\n"), Namesakes: MatchNamesakes})
	require.Len(t, r.Errors, 1)
	require.Contains(t, r.Errors[0].Rule, `2 prospects here have this name`)
	require.Contains(t, r.Errors[0].Rule, a.reader(t.Context()).groups.Leader(orrin).String())
	require.Empty(t, a.imports(ImportRequest{Data: []byte(list), Namesakes: NewNamesakes, DryRun: true}).Errors)
}

// adding is a table with more columns, of which every row says the same.
func adding(t *testing.T, table []byte, heads, cells []string, edit func(rows [][]string) [][]string) []byte {
	return edited(t, table, func(rows [][]string) [][]string {
		for i := range rows {
			rows[i] = append(rows[i], [][]string{heads, cells}[min(i, 1)]...)
		}
		return edit(rows)
	})
}

// Reps and evaluations that were exported are the ones with these ids, also in a table
// that names prospects and games; its other rows are entered by what it names.
func TestAnExportOfOwnWorkMayNameWhatItBelongsTo(t *testing.T) {
	a := found(t)
	a.load("prospect", "list_id,name,school,class_year\n17,Orrin Vale,Salt Lick,2027\n")
	a.load("rep", "list_id,number,date,home,away,result\n17,1,2026-10-03,Salt Lick,Low Ridge,won\n17,2,2026-10-03,Salt Lick,Low Ridge,lost\n")
	a.load("evaluation", "list_id,overall\n17,6\n")
	for kind, owners := range map[string][2][]string{
		"rep":        {{"list_id", "date", "home", "away"}, {"17", "2026-10-03", "Salt Lick", "Low Ridge"}},
		"evaluation": {{"list_id", "name"}, {"17", "Somebody Else"}},
	} {
		figure := map[string]string{"rep": "number", "evaluation": "overall"}[kind]
		for _, columns := range [][]string{nil, {figure}} {
			table := a.exported(kind, columns...)
			before := a.entries()
			read := func(table []byte) ImportReport {
				r, err := a.Import(t.Context(), ImportRequest{Kind: kind, Data: table})
				require.NoError(t, err, kind)
				return r
			}
			same := func(rows [][]string) [][]string { return rows }
			if kind == "evaluation" && columns == nil {
				owners = [2][]string{{"list_id"}, {"17"}} // its column prospect is the name
			}
			r := read(adding(t, table, owners[0], owners[1], same))
			require.Empty(t, r.Errors)
			require.Equal(t, [3]int{r.Rows, 0, 0}, [3]int{r.Unchanged, r.Added, r.Changed}, "%s: %+v", kind, r.Records)
			require.Equal(t, before, a.entries())
			r = read(adding(t, table, owners[0], owners[1], func(rows [][]string) [][]string {
				again := slices.Clone(rows[1])
				again[0] = ""
				return append(rows, again)
			}))
			require.Len(t, r.Errors, 1)
			require.Equal(t, "the same "+kind+" as in line 2; leave one of them out", r.Errors[0].Rule)
			r = read(adding(t, table, owners[0], owners[1], func(rows [][]string) [][]string {
				rows[1][0] = "new"
				return rows
			}))
			require.Len(t, r.Errors, 1)
			require.Contains(t, r.Errors[0].Rule, "leave record empty")
		}
	}
	r, err := a.Import(t.Context(), ImportRequest{Kind: "rep", Data: adding(t, a.exported("rep", "number", "result"),
		[]string{"list_id", "date", "home", "away"}, []string{"17", "2026-10-03", "Salt Lick", "Low Ridge"}, func(rows [][]string) [][]string {
			added := slices.Clone(rows[1])
			added[0], added[in(rows, "number")] = "", "4"
			rows[1][in(rows, "number")] = "3"
			return append(rows, added)
		})})
	require.NoError(t, err)
	require.Empty(t, r.Errors)
	require.Equal(t, [3]int{1, 1, 2}, [3]int{r.Added, r.Changed, r.Unchanged}, "one rep and the look are as they were: %+v", r.Records)
	list, err := a.List(t.Context(), ListQuery{Kind: "rep"})
	require.NoError(t, err)
	require.Equal(t, 3, list.Total)
	require.Equal(t, 1, a.listed("looks == 1"))
	_, err = a.Import(t.Context(), ImportRequest{Kind: "measurement", Defaults: map[string]string{"source": "listed"}, Data: []byte("record,list_id,what,value\n,17,arm,334\n")})
	require.ErrorIs(t, err, ErrInvalid)
	require.ErrorContains(t, err, "leave either out")
}

// That a table is an export, with apostrophes before what a spreadsheet takes for
// formulas, is told by the ids in it, whatever head their column was given.
func TestAnExportIsOneWhateverItsIDsAreCalled(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick", "class_year", "2027", "hometown", "=1+1")
	table := a.exported("prospect", "name", "school", "class_year", "hometown")
	for head, field := range map[string]string{"Key": "record", " KEY ": "record", "record": "-"} {
		before := a.entries()
		r := a.imports(ImportRequest{Namesakes: MatchNamesakes, DryRun: field == "-", Headers: map[string]string{head: field}, Data: edited(t, table, func(rows [][]string) [][]string {
			require.Equal(t, "'=1+1", rows[1][in(rows, "hometown")])
			rows[0][0] = head
			return rows
		})})
		require.Empty(t, r.Errors)
		require.Equal(t, [2]int{0, 0}, [2]int{r.Added, r.Conflicts}, head)
		require.Equal(t, before, a.entries(), head)
	}
	// A list's own column of that name holds no ids, so that its texts are its own.
	r := a.imports(ImportRequest{Headers: map[string]string{"record": "list_id"}, Data: []byte("record,name,school,class_year,hometown\n7-2,Ada Nye,Low Ridge,2027,'=1+1\n")})
	require.Equal(t, 1, r.Added)
	require.Equal(t, []string{"'=1+1"}, a.texts(a.only("Ada Nye"), "hometown"))
	require.Equal(t, []string{"=1+1"}, a.texts(id, "hometown"))
}

package node

import (
	"cmp"
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"plumbline/node/demo"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// packedWorld is what a staff gathered, with games in conflict and joined, and
// with retired looks and reps. All of it is invented.
func packedWorld(t *testing.T) (*laptop, []entry.RecordID) {
	a := found(t)
	c := join(t, a, "Tove Lund", false)
	w := demo.New(7, demo.Size{Scouts: 2, Prospects: 12, Games: 6, Reps: 900, RepsPerLook: 30, Evaluations: 30})
	for person, l := range []*laptop{a, a, c} {
		for _, table := range w.Tables(demo.PersonIndex(person)) {
			r, err := l.Import(t.Context(), ImportRequest{Kind: table.Kind, Data: table.Data, File: table.File, Source: demo.Source})
			require.NoError(t, err)
			require.Empty(t, r.Errors)
		}
	}
	connect(t, c, a)
	ids := map[string][]entry.RecordID{}
	for _, kind := range []string{"game", "look", "rep"} {
		l, err := a.List(t.Context(), ListQuery{Kind: kind})
		require.NoError(t, err)
		for _, row := range l.Rows {
			if row.ID.Class() != entry.Owned || row.ID.Person() == a.person() {
				ids[kind] = append(ids[kind], row.ID)
			}
		}
	}
	a.alone()
	c.alone()
	a.set(ids["game"][0], "home", "Marrow Hill")
	c.set(ids["game"][0], "home", "Tin Valley")
	a.restart()
	c.restart()
	connect(t, a, c)
	_, err := a.Same(t.Context(), ids["game"][1].String(), ids["game"][2].String(), false)
	require.NoError(t, err)
	a.retire(ids["look"][2].String())
	a.retire(ids["rep"][3].String())
	return a, ids["rep"]
}

func (l *laptop) person() entry.PersonID {
	s, err := l.Status(l.t.Context())
	require.NoError(l.t, err)
	return s.Author.Person
}

// terms are comparisons of every sort of value that packs hold, and of such that
// they don't.
var terms = map[string][]string{
	"rep": {
		`result == "lost"`, `result in ["won", "even"]`, `down == 3`, `distance > 7`, `number < 12`, `quarter != 2`, `known(clock)`, `!(yard_line >= 40)`,
		`look.contains("seen")`, `by == "Tove Lund"`, `conflicts > 0`, `observations.contains("hand")`, `known(move)`, `number + down > 20`, `play == "pass"`,
	},
	"look":       {`mode == "film"`, `known(game)`, `prospect.startsWith("A")`, `by != "Tove Lund"`, `conflicts == 0`, `known(date)`},
	"evaluation": {`overall > 5`, `projected >= overall`, `known(filed)`, `prospect > "M"`, `by == "Tove Lund"`},
	"game":       {`home == "Marrow Hill"`, `conflicts > 0`, `date > "2026-09-20"`, `away.size() > 8`},
}

var orders = map[string][]string{
	"rep": {"number", "-distance", "result", "look", "-by", "observations", "-clock", "conflicts"}, "look": {"date", "-prospect", "-conflicts"},
	"evaluation": {"-overall", "by", "-filed.date"}, "game": {"date", "-home"},
}

// TestPacksAnswerAsRecordsDo asks packs and every record the same, while records
// change in between.
func TestPacksAnswerAsRecordsDo(t *testing.T) {
	l, reps := packedWorld(t)
	asked := 0
	rapid.Check(t, func(t *rapid.T) {
		if rapid.IntRange(0, 3).Draw(t, "edit") == 0 {
			id := rapid.SampledFrom(reps).Draw(t, "rep")
			l.set(id, "distance", fmt.Sprint(rapid.IntRange(1, 20).Draw(t, "distance")))
		}
		kind := rapid.SampledFrom([]string{"rep", "look", "evaluation", "game"}).Draw(t, "kind")
		q := ListQuery{Kind: kind, Hidden: rapid.Bool().Draw(t, "retired"), Limit: rapid.SampledFrom([]int{0, 1, 7, 100}).Draw(t, "limit")}
		q.Sort = rapid.SliceOfNDistinct(rapid.SampledFrom(orders[kind]), 0, 2, rapid.ID).Draw(t, "sort")
		if rapid.IntRange(0, 5).Draw(t, "where") > 0 {
			q.Where = drawWhere(t, kind, 2)
		}
		packed, err := l.List(l.t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		if len(q.Sort) == 0 {
			q.Sort = usualOrder[kindNumber(kind)]
		}
		read := l.listEach(t, q)
		if fmt.Sprintf("%+v", packed) != fmt.Sprintf("%+v", read) {
			t.Fatalf("%+v\nfrom packs: %d, %+v\nfrom records: %d, %+v", q, packed.Total, packed.Rows, read.Total, read.Rows)
		}
		asked += len(read.Rows)
	})
	require.NotZero(t, asked)
}

func drawWhere(t *rapid.T, kind string, depth int) string {
	shape := 0
	if depth > 0 {
		shape = rapid.IntRange(0, 3).Draw(t, "shape")
	}
	switch shape {
	case 1:
		return "!(" + drawWhere(t, kind, depth-1) + ")"
	case 2:
		return "(" + drawWhere(t, kind, depth-1) + " && " + drawWhere(t, kind, depth-1) + ")"
	case 3:
		return "(" + drawWhere(t, kind, depth-1) + " || " + drawWhere(t, kind, depth-1) + ")"
	}
	return rapid.SampledFrom(terms[kind]).Draw(t, "term")
}

// listEach answers a listing by reading every record.
func (l *laptop) listEach(t *rapid.T, q ListQuery) Listing {
	k, err := record.Stored().KindByName(cmp.Or(q.Kind, "prospect"))
	if err != nil {
		t.Fatal(err)
	}
	fields := fieldsOf(k.Number)
	columns, err := columnsOf(k, fields, q)
	if err != nil {
		t.Fatal(err)
	}
	program, err := compile(fields, q)
	if err != nil {
		t.Fatal(err)
	}
	keep, uses := filter(nil, program)
	p := &pile{sort: q.Sort, columns: columns, limit: q.Limit}
	if err := l.reader(l.t.Context()).pileAll(p, k, q.Hidden, keep, names(uses, q.Sort)); err != nil {
		t.Fatal(err)
	}
	return Listing{Columns: columns, Rows: p.rows(), Total: p.total}
}

// TestTidyPacksAhead finds nothing left to pack after tidying, and the same
// answers.
func TestTidyPacksAhead(t *testing.T) {
	l, reps := packedWorld(t)
	l.set(reps[0], "distance", "17")
	select {
	case <-l.grown: // else it would give way to what is coming
	default:
	}
	require.NoError(t, l.packAll())
	for _, kind := range packedKinds {
		left, _, err := l.store.Unpacked(t.Context(), kind)
		require.NoError(t, err)
		require.Empty(t, left)
	}
	got, err := l.List(t.Context(), ListQuery{Kind: "rep", Where: "distance == 17", Limit: 1000})
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(got.Rows, func(row Row) bool { return row.ID == reps[0] }))
}

// TestAnImportLeavesItsListsPacked looks whether packs of what a table brought are
// to be made when the import ends. Nothing else makes them so soon.
func TestAnImportLeavesItsListsPacked(t *testing.T) {
	a := found(t)
	var table strings.Builder
	table.WriteString("name,school,class_year,game_date,home,away,number,quarter,play,result\n")
	for i := range storage.PackSize + 1 {
		fmt.Fprintf(&table, "Orrin Vale,Salt Lick,2027,2026-09-05,Salt Lick,Pine Bluffs,%d,1,pass,won\n", i+1)
	}
	require.Empty(t, a.load("rep", table.String()).Errors)
	packs, _, err := a.store.Packs(t.Context(), record.Rep, nil)
	require.NoError(t, err)
	require.Len(t, packs, 2)
	left, _, err := a.store.Unpacked(t.Context(), record.Rep)
	require.NoError(t, err)
	require.Empty(t, left)
}

// TestAListDoesntWaitForPacksThatWait asks for a list while packs that were made
// ahead wait for the writer, as they do while a large table is stored.
func TestAListDoesntWaitForPacksThatWait(t *testing.T) {
	l, reps := packedWorld(t)
	l.set(reps[0], "distance", "17")
	release := l.holdUpWriter()
	packed := make(chan error, 1)
	go func() { packed <- l.pack(t.Context(), record.Rep, true) }()
	for i := 0; i < 200 && l.packing.TryLock(); i++ { // until the packs are being made, or have been
		l.packing.Unlock()
		<-time.After(time.Millisecond)
	}
	got, err := l.List(t.Context(), ListQuery{Kind: "rep", Where: "distance == 17", Limit: 1000})
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(got.Rows, func(row Row) bool { return row.ID == reps[0] }))
	select {
	case err := <-packed:
		t.Fatalf("the list has waited for the packs: %v", err)
	default:
	}
	release()
	require.NoError(t, <-packed)
}

// holdUpWriter lets the node's writer wait for another process that stores something,
// until what it returns is called.
func (l *laptop) holdUpWriter() (release func()) {
	t := l.t
	db, err := sql.Open("sqlite", filepath.Join(l.cfg.Data, databaseFile))
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	other, err := db.Conn(t.Context())
	require.NoError(t, err)
	_, err = other.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)
	written := make(chan error, 1)
	go func() { written <- l.store.SetMeta(t.Context(), "held", []byte("up")) }()
	for free := true; free; { // until the writer is held up
		<-time.After(time.Millisecond)
		free, err = l.store.OfferPacks(t.Context(), 0, nil)
		require.NoError(t, err)
	}
	return func() {
		_, err := other.ExecContext(t.Context(), "ROLLBACK")
		require.NoError(t, err)
		require.NoError(t, <-written)
	}
}

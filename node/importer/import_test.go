package importer

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// show writes proposals so that a test can say what it wants; references show the
// place of the proposal that they point to.
func show(t *testing.T, got *Result) string {
	t.Helper()
	place := map[identifier]int{}
	var out strings.Builder
	for i, p := range got.Proposals {
		k, _ := record.Stored().Kind(p.Kind)
		mark := ""
		if p.Mention {
			mark = "?"
		}
		fmt.Fprintf(&out, "%d %s%s:", p.Line, k.Name, mark)
		for _, v := range p.Fields {
			if v.IsRef() {
				at, ok := place[identifier{v.RefKind, v.RefKey}]
				if !ok {
					t.Fatalf("%s refers to a %d that isn't above it", k.Name, v.RefKind)
				}
				fmt.Fprintf(&out, " %s=#%d", v.Register.Path(), at)
				continue
			}
			text, err := v.Register.Text(v.Value)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&out, " %s=%s", v.Register.Path(), text)
		}
		place[identifier{p.Kind, p.NaturalKey}] = i
		out.WriteByte('\n')
	}
	for _, p := range got.Problems {
		fmt.Fprintln(&out, told(p))
	}
	return out.String()
}

// told is a problem in one line: the file, the place there, the value and the rule.
func told(p Problem) string {
	where := fmt.Sprintf("%s, line %d", p.File, p.Line)
	if p.Sheet != "" {
		where = fmt.Sprintf("%s, sheet %s, row %d", p.File, p.Sheet, p.Line)
	}
	if p.Cell != "" {
		where = fmt.Sprintf("%s, sheet %s, cell %s", p.File, p.Sheet, p.Cell)
	}
	if p.Column == "" {
		return where + ": " + p.Rule
	}
	return fmt.Sprintf("%s, column %q: %.60q: %s", where, p.Column, p.Value, p.Rule)
}

// The tables are invented.
func TestImport(t *testing.T) {
	for _, c := range []struct {
		name       string
		kind       entry.Kind
		options    Options
		text, want string
	}{
		{
			"prospects with measurements", record.Prospect, Options{},
			"Name,Pos,School,Class,No,HT,Wt,40,source,timing,date\n" +
				"Abel Quill,LT,Norte,2027,77,6046,305,5.12,verified,laser,2026-03-01\n" +
				"Bram Ode,QB,Sur,2027,,6-2,,,listed,,\n",
			`2 prospect: name=Abel Quill position=tackle school=Norte class_year=2027 jersey=77
2 measurement: prospect=#0 what=height reading=6046, verified, 2026-03-01
2 measurement: prospect=#0 what=weight reading=305, verified, 2026-03-01
2 measurement: prospect=#0 what=forty reading=5.12, electronic, verified, 2026-03-01
3 prospect: name=Bram Ode position=quarterback school=Sur class_year=2027
3 measurement: prospect=#4 what=height reading=6-2, listed
`,
		},
		{
			"a list with ids and foreign headers", record.Prospect,
			Options{Map: map[string]string{"Spieler": "name", "Bemerkung": "-"}, Source: "listed"},
			"id;Spieler;Bemerkung;arm\n17;Abel Quill;x;33,1/4\n18;Bram Ode;y;334\n",
			`3 prospect: list_id=18 name=Bram Ode
3 measurement: prospect=#0 what=arm reading=334, listed
t.csv, line 2, column "arm": "33,1/4": no length; type 332 or 33 1/4
`,
		},
		{
			"measurements, one a row", record.Measurement, Options{Date: "2026-03-01"},
			"list_id,what,value,source\n17,hand,9 7/8,verified\n17,hand,97,measured\n17,hand,97,verified\n",
			`2 prospect?: list_id=17
2 measurement: prospect=#0 what=hand reading=9 7/8, verified, 2026-03-01
3 measurement: prospect=#0 what=hand reading=97, verified, 2026-03-01
t.csv, line 4: the same measurement as in line 3; leave one of them out
`,
		},
		{
			"games", record.Game, Options{},
			"date,home,away,week\n2026-09-12,Norte,Sur,2\n2026-09-12,norte, SUR ,2\n2026-09-19,Norte,,3\n",
			`2 game: date=2026-09-12 home=Norte away=Sur week=2
t.csv, line 3: the same game as in line 2; leave one of them out
t.csv, line 4: which game? Fill in date, home and away
`,
		},
		{
			"reps", record.Rep, Options{},
			"player,school,class,date,home,away,mode,rep,q,clock,play,result,seen\n" +
				"Abel Quill,Norte,2027,2026-09-12,Norte,Sur,film,1,1,12:31,pass,+,\"late_hands, lunging\"\n" +
				"abel quill,Norte,2027,2026-09-12,Norte,Sur,,2,1,11:58,run,l,\n" +
				"Abel Quill,Norte,2027,2026-09-12,Norte,Sur,live,3,1,11:20,run,w,\n" +
				"Abel Quill,Norte,2027,2026-09-12,Norte,Sur,film,2,1,10:44,pass,w,\n",
			`2 prospect?: name=Abel Quill school=Norte class_year=2027
2 game?: date=2026-09-12 home=Norte away=Sur
2 look: mode=film prospect=#0 game=#1
2 rep: number=1 quarter=1 clock=12:31 play=pass result=won seen=late_hands, lunging look=#2
3 rep: number=2 quarter=1 clock=11:58 play=run result=lost look=#2
t.csv, line 4, column "mode": "live": line 2 says something else about the same look
t.csv, line 5: the same rep as in line 3; leave one of them out
`,
		},
		{
			"evaluations", record.Evaluation, Options{},
			"list_id,overall,grades.hand_use,Grades.feet,role,verdict\n17,6,7,5,starter,\"Take him.\nEarly.\"\n18,6,12,5,,\n",
			`2 prospect?: list_id=17
2 evaluation: overall=6 grades.hand_use=7 grades.feet=5 role=starter verdict=Take him.
Early. prospect=#0
t.csv, line 4, column "grades.hand_use": "12": must be from 1 to 9 (1 to 9 for each factor, such as grades.hand_use=6)
`,
		},
		{
			"problems of every kind", record.Prospect, Options{},
			"name,school,class_year,position,height,source,date\n" +
				"A,Norte,2027,OL,6046,listed,\n" +
				"B,Norte,27,QB,6048,listed,\n" +
				"C,,2027,QB,6046,listed,\n" +
				"D,Norte,2027,QB,6046,guess,\n" +
				"E,Norte,2027,QB,6046,listed,March\n" +
				"F,Norte,2027,QB,6046,listed,,surplus\n" +
				"G,Norte,2027,QB,6046,listed,\n",
			`8 prospect: name=G school=Norte class_year=2027 position=quarterback
8 measurement: prospect=#0 what=height reading=6046, listed
t.csv, line 2, column "position": "OL": which one: tackle, guard or center?
t.csv, line 3, column "class_year": "27": must be from 1900 to 2200 (the year of the class, such as 2027)
t.csv, line 3, column "height": "6048": the last digit counts eighths of an inch and says 8; it goes from 0 to 7
t.csv, line 4: which prospect? Fill in list_id, or name, school and class_year
t.csv, line 5, column "source": "guess": not one of the words for this; known: listed, estimated, verified
t.csv, line 6, column "date": "March": not a day of the calendar; type it as YYYY-MM-DD, such as 2026-10-14
t.csv, line 7: 8 cells, and the header names 7 columns; is a comma not quoted?
`,
		},
		{
			"all of a row at once, each cell once", record.Prospect, Options{},
			"name,school,class_year,position,height,arm,forty,source,timing,date\n" +
				"A,Norte,27,goalie,64,334,5.1x,,sundial,March\n" +
				"B,Norte,2027,QB,6046,334,,verified,,\n" +
				"B,Norte,2027,QB,6046,334,,verified,,\n",
			`3 prospect: name=B school=Norte class_year=2027 position=quarterback
3 measurement: prospect=#0 what=height reading=6046, verified
3 measurement: prospect=#0 what=arm reading=334, verified
t.csv, line 2, column "class_year": "27": must be from 1900 to 2200 (the year of the class, such as 2027)
t.csv, line 2, column "position": "goalie": not one of the words for this; known: quarterback, running_back, receiver, tight_end, tackle, guard, center, interior_line, edge, linebacker, cornerback, safety, specialist
t.csv, line 2, column "height": "64": 64 has 2 digits, and a height has four: one of feet, two of inches, one of eighths: type 5040 for 5'4" or 6040 for 6'4"
t.csv, line 2, column "date": "March": not a day of the calendar; type it as YYYY-MM-DD, such as 2026-10-14
t.csv, line 2, column "source": "": a number needs its source: fill in listed, estimated or verified
t.csv, line 2, column "forty": "5.1x": no time; type seconds with two or three decimals: 4.98
t.csv, line 2, column "timing": "sundial": not one of the words for this; known: hand, electronic
t.csv, line 4: the same prospect as in line 3; leave one of them out
`,
		},
		{
			"measurements: a wrong word hides nothing", record.Measurement, Options{},
			"list_id,what,value,source,timing,date\n,elbow,334,guess,,March\n17,forty,,listed,hand,\n",
			`t.csv, line 2, column "what": "elbow": not one of the words for this; known: height, weight, arm, hand, wingspan, forty, ten_split, twenty_split, shuttle, three_cone, vertical, broad_jump, bench
t.csv, line 2, column "date": "March": not a day of the calendar; type it as YYYY-MM-DD, such as 2026-10-14
t.csv, line 2, column "source": "guess": not one of the words for this; known: listed, estimated, verified
t.csv, line 2: which prospect? Fill in list_id, or name, school and class_year
t.csv, line 3, column "value": "": nothing typed; type 4.98
`,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.options.File, c.options.Kind = "t.csv", c.kind
			got, err := Import(strings.NewReader(c.text), c.options)
			if err != nil {
				t.Fatal(err)
			}
			if shown := show(t, got); shown != c.want {
				t.Errorf("got\n%s\nwant\n%s", shown, c.want)
			}
		})
	}
}

func TestImportRefusesColumns(t *testing.T) {
	for _, c := range []struct {
		name string
		kind entry.Kind
		m    map[string]string
		text string
		says string
	}{
		{"unknown", record.Game, nil, "date,home,away,weke\n", `column "weke" is not known here; give it a field, or leave it out; did you mean week?`},
		{"several unknown", record.Game, nil, "date,home,away,weke,looks,sesson\n", "3 columns have no place; give each a field, or leave it out:\n  \"weke\"; did you mean week?\n  \"looks\""},
		{"two for one field", record.Prospect, nil, "name,player,school,class\n", `columns "name" and "player" both mean name`},
		{"one head twice", record.Prospect, nil, "name,school, School,class\n", `two columns are headed "School"; rename one of the two heads in the file`},
		{"one head twice, mapped", record.Prospect, map[string]string{"outfit": "school"}, "name,Outfit,outfit,class\n", `two columns are headed "outfit"; rename one`},
		{"without a name", record.Game, nil, "date,home,away,\n2026-09-12,a,b,c\n", "column 4 has values but no name"},
		{"lacking", record.Game, nil, "date,home\n", `a column "away" is missing`},
		{"no identity", record.Prospect, nil, "name,school\n", "list_id, or by name, school and class_year"},
		{"no source", record.Prospect, nil, "list_id,height\n", "numbers need their source"},
		{"a mapping to nowhere", record.Game, map[string]string{"weeek": "week"}, "date,home,away,week\n", `"weeek" is mapped, but no column is called so; did you mean week?`},
		{"a mapping to nothing", record.Game, map[string]string{"wk": "weak"}, "date,home,away,wk\n", `column "wk" is not known here; give it a field, or leave it out; did you mean week?`},
		{"a reference", record.Evaluation, nil, "list_id,prospect,overall\n", ""},
		{"a map without key", record.Evaluation, nil, "list_id,grades\n", `column "grades" is not known here`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Import(strings.NewReader(c.text), Options{File: "t.csv", Kind: c.kind, Map: c.m})
			if c.says == "" {
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if !errors.Is(err, ErrTable) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v; want ErrTable and %q", err, c.says)
			}
		})
	}
	if _, err := Import(strings.NewReader("x\n"), Options{Kind: record.Flag}); !errors.Is(err, ErrKind) {
		t.Errorf("flags: got %v, want ErrKind", err)
	}
}

// A record is known again although capitals, spaces, the composition of accents,
// the jersey and the order of columns changed.
func TestNaturalKeysHold(t *testing.T) {
	first, err := Import(strings.NewReader("name,school,class_year,jersey\nRen\u00e9 Quill,Norte State,2027,77\n"), Options{Kind: record.Prospect})
	if err != nil {
		t.Fatal(err)
	}
	again, err := Import(strings.NewReader("class,jersey,school,name\n2027,12,NORTE  state,rene\u0301  QUILL\n"), Options{Kind: record.Prospect})
	if err != nil {
		t.Fatal(err)
	}
	other, err := Import(strings.NewReader("name,school,class_year\nRen\u00e9 Quill,Norte State,2028\n"), Options{Kind: record.Prospect})
	if err != nil {
		t.Fatal(err)
	}
	if first.Proposals[0].NaturalKey != again.Proposals[0].NaturalKey {
		t.Errorf("%q and %q", first.Proposals[0].NaturalKey, again.Proposals[0].NaturalKey)
	}
	if first.Proposals[0].NaturalKey == other.Proposals[0].NaturalKey {
		t.Error("two class years have one key")
	}
	if key("a", "b c") == key("a b", "c") || within([]string{key("a")}, "b") == key("a", "b") {
		t.Error("parts of a key run into each other")
	}
}

// Each name that is told to people is one that its own table takes, in one column each.
func TestNamesAreTaken(t *testing.T) {
	for kind, l := range layouts {
		var names []string
		for _, name := range l.names() {
			names = append(names, strings.Replace(name, "KEY", "hand_use", 1))
		}
		got, err := Import(strings.NewReader(strings.Join(names, ",")+"\n"), Options{File: "t.csv", Kind: kind})
		if err != nil {
			t.Error(err)
			continue
		}
		if len(got.Columns) != len(names) {
			t.Errorf("kind %d: %d names, %d placed", kind, len(names), len(got.Columns))
		}
	}
}

func TestProblemsAreBounded(t *testing.T) {
	got, err := Import(strings.NewReader("date,home,away\n"+strings.Repeat("soon,a,b\n", 500)), asGames)
	if err != nil {
		t.Fatal(err)
	}
	if got.Failed != 500 || got.Rows != 500 || len(got.Problems) != MaxProblems {
		t.Errorf("%d of %d failed, %d listed", got.Failed, got.Rows, len(got.Problems))
	}
}

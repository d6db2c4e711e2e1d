package main

import (
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestTheJob is the job that the program is for, by the command line alone: a
// director and two scouts work apart and offline, then meet on one network.
// Whatever anybody saved is accounted for on every laptop, every laptop answers
// alike, and what differs stands with name and time until a person settles it.
func TestTheJob(t *testing.T) {
	began := time.Now()
	mara, tobin, ira := newStaff(t)
	staff := []*notebook{mara, tobin, ira}
	wrote := offline(t, mara, tobin, ira)
	held := meet(t, mara, tobin, ira)
	t.Logf("%d entries on each laptop; alike %s after the founding", held.Entries, time.Since(began).Round(time.Millisecond))
	answersAlike(t, staff)
	conflictsNameAuthors(t, staff, began)

	// The director settles one and joins the double; a name for both is settled.
	settleJersey(t, mara)
	wrote.add(mara, "prospect", "jersey", "77")
	joinDouble(t, mara)
	for range 2 { // into both members
		wrote.add(mara, "prospect", "name", "Corvin Haske")
	}
	alike(t, staff...)
	account(t, staff, wrote)
	before := answersAlike(t, staff)
	joinedIsOne(t, ira)

	for _, n := range staff {
		n.stop()
	}
	if stopped := answersAlike(t, staff); stopped != before {
		t.Errorf("with the nodes stopped the answers differ:\n%s\nbefore:\n%s", stopped, before)
	}
	for _, n := range staff {
		if out := n.do("verify"); !strings.Contains(out, "verified") {
			t.Errorf("%s: verify says %s", n.name, out)
		}
	}
}

// fact is one value that a person saved.
type fact struct{ person, kind, field, text string }

// ledger counts what was saved, as the test knows it from the tables' cells and
// the commands' arguments.
type ledger map[fact]int

func (l ledger) add(n *notebook, kind string, sets ...string) {
	for i := 0; i < len(sets); i += 2 {
		l[fact{n.person, kind, sets[i], sets[i+1]}]++
	}
}

// offline is what each does alone, with no node running anywhere.
func offline(t *testing.T, mara, tobin, ira *notebook) ledger {
	t.Helper()
	wrote := ledger{}
	for _, n := range []*notebook{mara, tobin, ira} {
		wrote.importTable(n, "prospect", "class.csv")
		for _, kind := range []string{"prospect", "measurement", "rep"} {
			wrote.importTable(n, kind, n.name+"-"+kind+"s.csv")
		}
	}
	add := func(n *notebook, kind string, sets ...string) string {
		wrote.add(n, kind, sets...)
		return strings.TrimSpace(n.do(slices.Concat([]string{"add", kind}, typed(sets))...))
	}
	set := func(n *notebook, record string, sets ...string) {
		wrote.add(n, "prospect", sets...)
		n.do(slices.Concat([]string{"set", record}, typed(sets))...)
	}
	evaluate := func(n *notebook, prospect string, sets ...string) string {
		wrote.add(n, "evaluation", sets...)
		return strings.TrimSpace(n.do(slices.Concat([]string{"add", "evaluation", "prospect=" + prospect}, typed(sets))...))
	}
	evaluate(mara, "Lem Dorn", "overall", "6", "summary", "Calls the protection; wants a stronger base.")
	filed := evaluate(tobin, "Orrin Vale", "overall", "7", "grades.hand_use", "6", "grades.anchor", "7", "strengths", "Patient, long, \"quiet\" feet.")
	tobin.do("file", filed)
	evaluate(tobin, "Wes Tarn", "overall", "5", "grades.hand_use", "4", "concerns", "Late hands, and he knows it.")
	evaluate(ira, "Orrin Vale", "overall", "6", "grades.hand_use", "7", "verdict", "Start him in year two.")

	// The same facts, differently; and one of them alike.
	set(tobin, "Orrin Vale", "jersey", "71", "hometown", "Low Ridge")
	set(ira, "Orrin Vale", "jersey", "77", "hometown", "Low Ridge")
	set(mara, "Orrin Vale", "note", "Asked about him twice.")
	set(tobin, "Lem Dorn", "note", "The calls are his.")
	set(ira, "Lem Dorn", "note", "The guard makes the calls.")

	// The same player, twice.
	add(tobin, "prospect", "name", "Corvin Haske", "position", "tackle", "school", "Stone Ferry", "class_year", "2027")
	add(ira, "prospect", "name", "Corvin Hasky", "position", "tackle", "school", "Stone Ferry", "class_year", "2027")
	tobin.do("add", "measurement", "prospect=Corvin Haske", "reading=arm 340 verified 2026-10-14")
	wrote.add(tobin, "measurement", "what", "arm", "reading", "340, verified, 2026-10-14")
	evaluate(ira, "Corvin Hasky", "overall", "8")
	return wrote
}

// typed turns names and values into field=value.
func typed(sets []string) []string {
	var args []string
	for i := 0; i < len(sets); i += 2 {
		args = append(args, sets[i]+"="+sets[i+1])
	}
	return args
}

// importTable imports a table of testdata/job, first for show, and writes down
// each of its cells. Tables are read here with the standard library's reader of
// CSV (RFC 4180).
func (l ledger) importTable(n *notebook, kind, file string) {
	n.t.Helper()
	path := filepath.Join("testdata", "job", file)
	data, err := os.Open(path)
	if err != nil {
		n.t.Fatal(err)
	}
	defer data.Close()
	rows, err := csv.NewReader(data).ReadAll()
	if err != nil {
		n.t.Fatal(err)
	}
	before := n.status()
	n.do("import", kind, path, "--source", "North list", "--dry-run")
	if after := n.status(); after.StateHash != before.StateHash || after.Entries != before.Entries {
		n.t.Errorf("%s: a dry run of %s changed what is held: %+v, before %+v", n.name, file, after, before)
	}
	n.do("import", kind, path, "--source", "North list")
	for _, row := range rows[1:] {
		cells := map[string]string{}
		for i, name := range rows[0] {
			cells[name] = row[i]
		}
		l.row(n, kind, cells)
	}
}

// row writes down what one row says, and not the columns by which it only names
// records that other rows are about.
func (l ledger) row(n *notebook, kind string, cells map[string]string) {
	switch kind {
	case "measurement":
		reading := slices.DeleteFunc([]string{cells["value"], cells["timing"], cells["source"], cells["date"]}, func(s string) bool { return s == "" })
		l.add(n, kind, "what", cells["what"], "reading", strings.Join(reading, ", "))
		return
	case "rep":
		cells = maps.Clone(cells)
		for _, name := range []string{"name", "school", "class_year", "game_date", "home", "away", "mode"} {
			delete(cells, name)
		}
	}
	for name, text := range cells {
		if text != "" {
			l.add(n, kind, name, text)
		}
	}
}

// meet starts the nodes on ports that nobody remembers: the beacon alone tells
// them of each other. The scouts meet first, and answer questions, before either
// has heard more of the director than how to join.
func meet(t *testing.T, mara, tobin, ira *notebook) standing {
	t.Helper()
	beacon := strconv.Itoa(freePort(t))
	for _, n := range []*notebook{mara, tobin, ira} {
		n.port = freePort(t)
	}
	tobin.launch("--beacon-port", beacon)
	ira.launch("--beacon-port", beacon)
	tobin.ready()
	ira.ready()
	alike(t, tobin, ira)
	ask := []string{"list", "--where", "reps > 0", "--columns", "name,looks,reps,seen_by"}
	if a, b := tobin.do(ask...), ira.do(ask...); a != b {
		t.Errorf("tobin answers\n%s\nand ira\n%s", a, b)
	}
	mara.start("--beacon-port", beacon)
	return alike(t, mara, tobin, ira)
}

// revision is one entry of a record's history, as show --history --json gives it.
type revision struct {
	ID      string    `json:"id"`
	Record  string    `json:"record"`
	Person  string    `json:"person_name"`
	Written time.Time `json:"written"`
	Status  string    `json:"status"`
	Source  string    `json:"source"`
	Fields  []struct {
		Name     string   `json:"name"`
		Text     string   `json:"text"`
		Replaces []string `json:"replaces"`
	} `json:"fields"`
}

// account checks on each laptop that every value that was saved is in the
// history, from the person who saved it, and that each is live there or was
// replaced by somebody whom the history names.
func account(t *testing.T, staff []*notebook, wrote ledger) {
	t.Helper()
	var all sync.WaitGroup
	for _, n := range staff {
		all.Go(func() {
			records := n.records()
			held, live := ledger{}, n.liveValues(records)
			for kind, ids := range records {
				for _, id := range ids {
					n.accountRecord(kind, id, held, live)
				}
			}
			for f, count := range wrote {
				if held[f] != count {
					t.Errorf("%s: %s saved %s %s %q %d times, and it is there %d times", n.name, f.person, f.kind, f.field, f.text, count, held[f])
				}
			}
		})
	}
	all.Wait()
}

// records lists the ids of all records, by kind. Of joined ones it has one.
func (n *notebook) records() map[string][]string {
	found := map[string][]string{}
	for _, kind := range []string{"prospect", "measurement", "game", "look", "rep", "evaluation", "person", "device"} {
		var list struct {
			Rows []struct {
				ID string `json:"id"`
			} `json:"rows"`
		}
		n.readBeside(&list, "list", kind)
		for _, row := range list.Rows {
			found[kind] = append(found[kind], row.ID)
		}
	}
	return found
}

// liveValues gives all live values, each as its id and field. What refers to a
// prospect is shown with it.
func (n *notebook) liveValues(records map[string][]string) map[string]bool {
	type shown struct {
		Fields []field `json:"fields"`
	}
	live := map[string]bool{}
	for _, kind := range []string{"prospect", "game", "person", "device"} {
		for _, id := range records[kind] {
			var answer struct {
				Record  shown   `json:"record"`
				Related []shown `json:"related"`
			}
			n.readBeside(&answer, "show", id)
			for _, record := range append(answer.Related, answer.Record) {
				for _, f := range record.Fields {
					for _, v := range f.Values {
						live[v.ID+" "+f.Name] = true
					}
				}
			}
		}
	}
	return live
}

func (n *notebook) accountRecord(kind, id string, held ledger, live map[string]bool) {
	var history struct {
		Revisions []revision `json:"revisions"`
	}
	n.readBeside(&history, "show", id, "--history")
	replaced := map[string]string{} // value and field, by whom
	for _, r := range history.Revisions {
		for _, f := range r.Fields {
			for _, old := range f.Replaces {
				replaced[old+" "+f.Name] = r.Person
			}
		}
	}
	for _, r := range history.Revisions {
		if r.Status != "applied" || r.Person == "" || r.Written.IsZero() {
			n.t.Errorf("%s: %s: a revision is %q, by %q at %s", n.name, id, r.Status, r.Person, r.Written)
		}
		for _, f := range r.Fields {
			held[fact{r.Person, kind, f.Name, f.Text}]++
			by, ok := replaced[r.ID+" "+f.Name]
			if isLive := live[r.ID+" "+f.Name]; isLive == ok || ok && by == "" {
				n.t.Errorf("%s: %s %s %q of %s: live %v, replaced by %q", n.name, kind, f.Name, f.Text, r.Person, isLive, by)
			}
		}
	}
}

// field is a field with its live values, as --json gives it.
type field struct {
	Name   string `json:"name"`
	Values []struct {
		ID      string    `json:"id"`
		Text    string    `json:"text"`
		Person  string    `json:"person_name"`
		Written time.Time `json:"written"`
	} `json:"values"`
}

// question is the director's, and its answer worked out by hand from the tables:
// Orrin Vale's verified arm is 334, thirty-three and a half inches (common
// practice), 2 laptops saw 9 reps of his and he won 6. Wes Tarn's listed arm is
// longer, but the verified one counts.
const question = `position == "tackle" && arm >= 334 && arm_source == "verified" && overall >= 6.0 && grades.hand_use >= 6.5 && looks >= 2 && won_share > 0.6`

// answersAlike asks every laptop the same and gives what they all answer.
func answersAlike(t *testing.T, staff []*notebook) string {
	t.Helper()
	got := staff[0].texts("list", "--where", question, "--columns", "name,arm,overall,grades.hand_use,looks,reps,won_share")
	if want := "Orrin Vale 334 6.50 6.50 2 9 0.67"; got != want {
		t.Errorf("the director's question is answered %q, want %q", got, want)
	}
	var all strings.Builder
	for _, ask := range [][]string{
		{"list", "--where", question},
		{"list", "--where", question, "--json"},
		{"list", "--where", `position == "tackle" && known(arm)`, "--sort", "-arm"},
		{"list", "--where", "reps > 0", "--columns", "name,looks,reps,seen_by"},
		{"list", "rep", "--where", `result == "lost"`, "--json"},
		{"list", "evaluation", "--json"},
		{"export", "prospect"},
		{"export", "measurement"},
		{"show", "Orrin Vale"},
		{"show", "Orrin Vale", "--history"},
		{"conflicts", "--json"},
		{"doubles", "--json"},
	} {
		answer := staff[0].do(ask...)
		fmt.Fprintln(&all, strings.Join(ask, " "))
		all.WriteString(answer)
		for _, n := range staff[1:] {
			if other := n.do(ask...); other != answer {
				t.Errorf("plumbline %s answers on %s\n%s\nand on %s\n%s", strings.Join(ask, " "), n.name, other, staff[0].name, answer)
			}
		}
	}
	return all.String()
}

// conflict is one of conflicts --json.
type conflict struct {
	Title string `json:"title"`
	Field field  `json:"field"`
}

func (n *notebook) conflicts() []conflict {
	n.t.Helper()
	var answer struct {
		Conflicts []conflict `json:"conflicts"`
	}
	n.read(&answer, "conflicts")
	return answer.Conflicts
}

// disputed gives the values that stand against each other in a field, each as
// "who: what", in order of who.
func disputed(conflicts []conflict) map[string][]string {
	found := map[string][]string{}
	for _, c := range conflicts {
		for _, v := range c.Field.Values {
			found[c.Title+" "+c.Field.Name] = append(found[c.Title+" "+c.Field.Name], v.Person+": "+v.Text)
		}
	}
	for _, values := range found {
		slices.Sort(values)
	}
	return found
}

func conflictsNameAuthors(t *testing.T, staff []*notebook, began time.Time) {
	t.Helper()
	want := map[string][]string{
		"Orrin Vale jersey": {"Ira Quist: 77", "Tobin Ash: 71"},
		"Lem Dorn note":     {"Ira Quist: The guard makes the calls.", "Tobin Ash: The calls are his."},
		"Ned Arrow jersey":  {"Ira Quist: 30", "Tobin Ash: 3"},
	}
	for _, n := range staff {
		conflicts := n.conflicts()
		if got := disputed(conflicts); !maps.EqualFunc(got, want, slices.Equal) {
			t.Errorf("%s lists the conflicts %v, want %v", n.name, got, want)
		}
		for _, c := range conflicts {
			for _, v := range c.Field.Values {
				if v.Written.Before(began.Add(-time.Second)) || v.Written.After(time.Now().Add(time.Second)) {
					t.Errorf("%s: %s of %s was written at %s", n.name, c.Field.Name, c.Title, v.Written)
				}
			}
		}
	}
}

func settleJersey(t *testing.T, n *notebook) {
	t.Helper()
	for _, c := range n.conflicts() {
		if c.Title != "Orrin Vale" {
			continue
		}
		for _, v := range c.Field.Values {
			if v.Text == "77" {
				n.do("settle", "Orrin Vale", "jersey", "--choose", v.ID)
				return
			}
		}
	}
	t.Fatal("there was no jersey to settle")
}

// joinDouble finds the pair among the doubles, joins it and settles the name.
func joinDouble(t *testing.T, n *notebook) {
	t.Helper()
	var answer struct {
		Doubles []struct{ First, Second struct{ ID, Title string } } `json:"doubles"`
	}
	n.read(&answer, "doubles")
	if len(answer.Doubles) != 1 {
		t.Fatalf("%d doubles are suggested, want one: %v", len(answer.Doubles), answer.Doubles)
	}
	pair := answer.Doubles[0]
	names := []string{pair.First.Title, pair.Second.Title}
	if slices.Sort(names); !slices.Equal(names, []string{"Corvin Haske", "Corvin Hasky"}) {
		t.Fatalf("the doubles are %v", names)
	}
	n.do("same", pair.First.ID, pair.Second.ID)
	n.do("settle", pair.First.ID, "name", "--value", "Corvin Haske")
}

// joinedIsOne checks that one prospect has what both scouts had written.
func joinedIsOne(t *testing.T, n *notebook) {
	t.Helper()
	got := n.texts("list", "--search", "Corvin", "--columns", "name,arm,overall,conflicts")
	if want := "Corvin Haske 340 8.00 0"; got != want {
		t.Errorf("the joined prospect is listed as %q, want %q", got, want)
	}
}

// texts gives the cells of a list as people read them, a line for each row.
func (n *notebook) texts(args ...string) string {
	n.t.Helper()
	var answer struct {
		Rows []struct {
			Texts []string `json:"texts"`
		} `json:"rows"`
	}
	n.read(&answer, args...)
	var rows []string
	for _, row := range answer.Rows {
		rows = append(rows, strings.Join(row.Texts, " "))
	}
	return strings.Join(rows, "\n")
}

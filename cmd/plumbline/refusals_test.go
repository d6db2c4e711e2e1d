package main

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// refused is one thing that a person does wrong, or that goes wrong, and what
// they are told.
type refused struct {
	name string
	args []string
	file string // the content of FILE in args
	code int
	says []string
}

// refusals are those of one laptop. FILE stands for a file's path. Heights and
// arms follow common practice: four digits are feet, two of inches and one of
// eighths, so the inches of 6129 say twelve; 3312 can be read in two ways.
var refusals = []refused{
	{"an unknown column", []string{"import", "prospect", "FILE"}, "name,positon,school,class_year\nPim Rask,tackle,Low Ridge,2027\n",
		exitRefused, []string{"FILE", "positon", "did you mean position?", "--map positon=position", "--map positon=- to leave it out"}},
	{"a column like nothing", []string{"import", "prospect", "FILE"}, "name,Ask again,school,class_year\nPim Rask,yes,Low Ridge,2027\n",
		exitRefused, []string{"FILE", `"Ask again"`, "--map 'Ask again=FIELD'", "--map 'Ask again=-'", "name, position, school"}},
	{"two columns of one field", []string{"import", "prospect", "FILE"}, "name,player,school,class_year\nPim Rask,Pim Rask,Low Ridge,2027\n",
		exitRefused, []string{"FILE", "--map name=-", "--map player=-"}},
	{"a slip in --set", []string{"import", "prospect", "FILE", "--set", "positin=guard"}, "name,school,class_year\nPim Rask,Low Ridge,2027\n",
		exitRefused, []string{"FILE", `"positin"`, "no field of this table", "--set position=guard in the place of --set positin=guard"}},
	{"an unknown field of --set", []string{"import", "prospect", "FILE", "--set", "bogus=1"}, "name,school,class_year\nPim Rask,Low Ridge,2027\n",
		exitRefused, []string{"FILE", `"bogus"`, "--set FIELD=1", "name, position, school"}},
	{"a missing column of prospects", []string{"import", "prospect", "FILE"}, "name,position\nPim Rask,tackle\n",
		exitRefused, []string{"FILE", "school", "class_year", "add", "--map COLUMN=school", "--set class_year=VALUE"}},
	{"a missing column of reps", []string{"import", "rep", "FILE"}, "name,school,class_year,number,home,away\nOrrin Vale,North Fork,2027,1,North Fork,Low Ridge\n",
		exitRefused, []string{"FILE", `"date"`, "missing", "add"}},
	{"reps without numbers", []string{"import", "rep", "FILE"}, "name,school,class_year,date,home,away\nOrrin Vale,North Fork,2027,2026-09-05,North Fork,Low Ridge\n",
		exitRefused, []string{"FILE", `"number"`, "missing", "--map COLUMN=number"}},
	{"numbers without a source", []string{"import", "prospect", "FILE"}, "name,school,class_year,arm\nPim Rask,Low Ridge,2027,334\n",
		exitRefused, []string{"FILE", "source", "listed, estimated, verified", "--set source=VALUE"}},
	{"bad notation", []string{"import", "prospect", "FILE"}, "name,school,class_year,height,source\nPim Rask,Low Ridge,2027,6046,listed\nWes Orn,Low Ridge,2027,6129,listed\n",
		exitRefused, []string{"FILE:3", "height", `"6129"`, "inches", "from 00 to 11", "nothing of the file was stored", "--partial"}},
	{"two ways to read it", []string{"import", "prospect", "FILE"}, "name,school,class_year,arm,source\nPim Rask,Low Ridge,2027,3312,verified\n",
		exitRefused, []string{"FILE:2", "arm", `"3312"`, "33 1/2"}},
	{"an unknown position", []string{"import", "prospect", "FILE"}, "name,position,school,class_year\nPim Rask,goalkeeper,Low Ridge,2027\n",
		exitRefused, []string{"FILE:2", "position", `"goalkeeper"`, "quarterback", "nothing of the file was stored"}},
	{"duplicate rows", []string{"import", "prospect", "FILE"}, "name,position,school,class_year\nPim Rask,guard,Low Ridge,2027\nWes Orn,guard,Low Ridge,2027\n pim  RASK,center,low ridge,2027\n",
		exitRefused, []string{"FILE:4", "line 2", "leave one of them out"}},
	{"new players who only differ in numbers", []string{"import", "prospect", "FILE"}, "record,name,school,class_year,height,source\nnew,Pim Rask,Low Ridge,2027,6046,listed\nnew,Pim Rask,Low Ridge,2027,6050,listed\n",
		exitRefused, []string{"FILE:3", "line 2 says the same", "if they are two", "its own list_id", "measurements don't tell two apart", "if not, leave one"}},
	{"a column of other ids", []string{"import", "prospect", "FILE"}, "record,name,school,class_year\n7-2,Pim Rask,Low Ridge,2027\n",
		exitRefused, []string{`FILE:2: record "7-2": no id of a prospect`, "leave it out:\n  --map record=-"}},
	{"a column of other ids that is mapped", []string{"import", "prospect", "FILE", "--map", "No.=record"}, "No.,name,school,class_year\n7-2,Pim Rask,Low Ridge,2027\n",
		exitRefused, []string{`"7-2"`, "--map No.=-"}},
	{"an open quote", []string{"import", "prospect", "FILE"}, "name,school,class_year\n\"Pim Rask,Low Ridge,2027\n",
		exitRefused, []string{"FILE", "line 2", "quotes"}},
	{"an empty file", []string{"import", "prospect", "FILE"}, "", exitRefused, []string{"FILE", "empty", "names the columns"}},
	{"a PDF", []string{"import", "prospect", "FILE"}, "%PDF-1.7\n1 0 obj\n%\xe2\xe3\n", exitRefused, []string{"FILE", "this is a PDF and no table", "save the list as CSV"}},
	{"a picture", []string{"import", "prospect", "FILE"}, "\x89PNG\r\n\x1a\n\x00\x00\x00", exitRefused, []string{"FILE", "a picture (PNG)", "save the list as CSV"}},
	{"an archive", []string{"import", "prospect", "FILE"}, zipped("class.csv"), exitRefused, []string{"FILE", "zip archive and no workbook", "unpack it"}},
	{"another office file", []string{"import", "prospect", "FILE"}, zipped("mimetype", "META-INF/manifest.xml"), exitRefused, []string{"FILE", "OpenDocument", "save it as .xlsx or CSV"}},
	{"bytes of no text", []string{"import", "prospect", "FILE"}, "n\x00a\x00m\x00e\x00", exitRefused, []string{"FILE", "no text", "UTF-16", "save it as CSV in UTF-8"}},
	{"a day that may be two", []string{"import", "game", "FILE"}, "date,home,away\n03/04/2026,North Fork,Low Ridge\n", exitRefused,
		[]string{"FILE:2", `date "03/04/2026"`, "2026-04-03 or 2026-03-04", "YYYY-MM-DD"}},
	{"too many rows", []string{"import", "prospect", "FILE"}, "list_id\n" + strings.Repeat("a\n", 200_001), exitRefused, []string{"FILE", "200000 rows", "split it"}},
	{"a file beyond the limit", []string{"import", "prospect", "FILE"}, beyond, exitRefused, []string{"FILE", "64 MB", "split it"}},
	{"no such file", []string{"import", "prospect", "nowhere.csv"}, "", exitRefused, []string{"nowhere.csv", "no such file"}},
	{"no such kind", []string{"import", "prospekt", "FILE"}, "name\n", exitRefused, []string{`"prospekt"`, "did you mean prospect?"}},
	{"a kind without tables", []string{"import", "note", "FILE"}, "text\n", exitRefused, []string{"there are tables of prospects"}},
	{"a mapped header that isn't there", []string{"import", "prospect", "FILE", "--map", "Plyer=name"}, "Player,school,class_year\nPim Rask,Low Ridge,2027\n",
		exitRefused, []string{"FILE", `"Plyer"`, "did you mean Player?", "--map Player=name"}},

	{"an unknown position by hand", []string{"add", "prospect", "name=Pim Rask", "position=goalkeeper"}, "", exitRefused, []string{`position "goalkeeper"`, "quarterback"}},
	{"bad notation by hand", []string{"add", "measurement", "prospect=Orrin Vale", "reading=height 6129 verified"}, "", exitRefused, []string{`"6129"`, "from 00 to 11"}},
	{"a day that may be two by hand", []string{"add", "game", "date=03/04/2026", "home=North Fork", "away=Low Ridge"}, "", exitRefused, []string{"2026-04-03 or 2026-03-04", "YYYY-MM-DD"}},
	{"a laptop that nobody has", []string{"add", "device", "name=spare"}, "", exitRefused, []string{"by invitation", "plumbline invite"}},
	{"a grade off the scale", []string{"add", "evaluation", "prospect=Orrin Vale", "overall=11"}, "", exitRefused, []string{`overall "11"`, "1 to 9"}},
	{"a grade of no factor", []string{"add", "evaluation", "prospect=Orrin Vale", "grades.hand_us=6"}, "", exitRefused, []string{`no factor "hand_us"`, "did you mean hand_use?"}},
	{"a column of no factor", []string{"import", "evaluation", "FILE"}, "name,school,class_year,grades.nosuch\nOrrin Vale,North Fork,2027,6\n",
		exitRefused, []string{"FILE:2", `grades.nosuch "6"`, `no factor "nosuch"`, "feet, hand_use", "leave it out", "nothing of the file was stored"}},
	{"several slips at once", []string{"add", "prospect", "nmae=Pim Rask", "position=goalkeeper", "class_year=soon", "jersey=7"}, "", exitRefused,
		[]string{`"nmae"`, `"goalkeeper"`, `"soon"`, "such as 2027", "a new prospect needs name"}},
	{"an unknown field", []string{"add", "prospect", "nmae=Pim Rask"}, "", exitRefused, []string{`"nmae"`, "did you mean name?"}},
	{"an unknown prospect", []string{"add", "note", "prospect=Nell Varr", "text=Late."}, "", exitNotFound, []string{`"Nell Varr"`}},
	{"an unknown record", []string{"show", "Nell Varr"}, "", exitNotFound, []string{`"Nell Varr"`}},
	{"an ambiguous name", []string{"set", "Ned Arrow", "jersey=4"}, "", exitNotFound, []string{`"Ned Arrow" fits 2`, "by its id", "Ned Arrow, North Fork", "Ned Arrow, Low Ridge"}},
	{"a value that wasn't seen", []string{"set", "Orrin Vale", "position=guard"}, "", exitUnseen, []string{"position", "tackle", "Mara Quill", "--seen"}},
	{"a file that is no evaluation", []string{"file", "Orrin Vale"}, "", exitNotFound, []string{`"Orrin Vale"`, "evaluation", "list evaluation --ids"}},
	{"a slip in an expression", []string{"list", "--where", `position == "tackle" && hight > 6000`}, "", exitRefused, []string{"hight", "^"}},
	{"an expression cut short", []string{"list", "--where", `arm >`}, "", exitRefused, []string{"line 1", "^"}},
	{"nobody of that name", []string{"revoke", "Nell Varr"}, "", exitNotFound, []string{`"Nell Varr"`, "roster lists them"}},
	{"a backup into no folder", []string{"backup", filepath.Join("nowhere", "copy")}, "", exitRefused, []string{"there is no folder", "nowhere"}},
	{"a list into no folder", []string{"export", "--output", filepath.Join("nowhere", "list.csv")}, "", exitRefused, []string{"there is no folder nowhere"}},
	{"a list of no known ending", []string{"export", "--output", "list.pdf"}, "", exitUsage, []string{".pdf", ".csv or .xlsx", "--format"}},
	{"a list of CSV that is called a workbook", []string{"export", "--output", "list.XLSX", "--format", "csv"}, "", exitUsage, []string{"--format csv", ".XLSX", "name the file .csv"}},
	{"a workbook that is called CSV", []string{"export", "--output", "list.csv", "--format", "xlsx"}, "", exitUsage, []string{"--format xlsx", "name the file .xlsx"}},
	{"a list in no known format", []string{"export", "--output", "list.pdf", "--format", "pdf"}, "", exitUsage, []string{`"pdf"`, "--format csv and --format xlsx"}},
	{"retiring by a text cut short", []string{"retire", "Orrin Vale", "--as-of", "AQAA"}, "", exitRefused, []string{"--as-of", "unchanged"}},
	{"a backup over a file", []string{"backup", "FILE"}, "kept", exitRefused, []string{"FILE", "exists"}},
	{"a second founding", []string{"init", "--staff", "Low Ridge", "--person", "Ira Quist", "--root-file", "second-root"}, "", exitRefused, []string{"staff"}},
	{"a wrong command line", []string{"list", "--wherever", "x"}, "", exitUsage, []string{"--wherever", "--help"}},
}

// zipped is an archive of empty files.
func zipped(names ...string) string {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range names {
		if _, err := z.Create(name); err != nil {
			panic(err) // into memory
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return b.String()
}

// beyond stands for a file one byte larger than an import takes, made without
// writing it.
const beyond = "beyond the limit"

// TestRefusals does each of them with the node stopped and with it running.
// Nothing is stored, and the person is told what, where and what to do.
func TestRefusals(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	t.Chdir(t.TempDir())
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", "root")
	for _, school := range []string{"North Fork", "Low Ridge"} {
		mara.do("add", "prospect", "name=Ned Arrow", "school="+school)
	}
	mara.do("add", "prospect", "name=Orrin Vale", "position=tackle", "school=North Fork", "class_year=2027")
	for _, factor := range []string{"feet", "hand_use"} {
		mara.do("add", "factor", "name="+factor)
	}
	before := mara.status()
	for _, way := range []string{"stopped", "running"} {
		if way == "running" {
			mara.start()
		}
		for i, c := range refusals {
			t.Run(way+"/"+c.name, func(t *testing.T) {
				file := fmt.Sprintf("table-%d.csv", i)
				c.write(t, file)
				args := strings.Split(strings.ReplaceAll(strings.Join(c.args, "\x00"), "FILE", file), "\x00")
				r := mara.try(args...)
				c.check(t, r, file)
				if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
					t.Errorf("something was stored: %+v, before %+v", after, before)
				}
			})
		}
	}
	if _, err := os.Stat("second-root"); err == nil {
		t.Error("a founding that was refused left its root's file")
	}
}

func (c refused) write(t *testing.T, file string) {
	t.Helper()
	content := []byte(c.file)
	if c.file == beyond {
		content = nil
	}
	if err := os.WriteFile(file, content, 0o600); err != nil {
		t.Fatal(err)
	}
	if c.file == beyond {
		if err := os.Truncate(file, 64<<20+1); err != nil {
			t.Fatal(err)
		}
	}
}

// check looks at what a person is told. Where rows of a table are wrong, they are
// listed above the sentence.
func (c refused) check(t *testing.T, r result, file string) {
	t.Helper()
	if r.code != c.code {
		t.Errorf("exit code %d, want %d: %s", r.code, c.code, r.errs)
	}
	for _, say := range c.says {
		if say = strings.ReplaceAll(say, "FILE", file); !strings.Contains(r.out+r.errs, say) {
			t.Errorf("nothing says %q in\n%s%s", say, r.out, r.errs)
		}
	}
	forPeople(t, r.errs)
}

// wrongRow is a line that names a row of a table: file, line, what is wrong.
var wrongRow = regexp.MustCompile(`(?m)^[^ ]+\.csv:\d+: .+\n`)

// insides are what no person should have to read: stacks, Go's names of types and
// its printing of nothing, and C's of errors.
var insides = regexp.MustCompile(`panic|goroutine|runtime error|\.go:\d|\b\*?[a-z]+\.[A-Z][A-Za-z]+|0x[0-9a-f]{4}|<nil>|%!|SQLITE_|rpc error`)

// forPeople checks the form of what stands on standard error: the wrong rows of a
// table, if it is one, then the program's name and a sentence, and nothing of the
// program's insides.
func forPeople(t *testing.T, errs string) {
	t.Helper()
	errs = wrongRow.ReplaceAllString(errs, "")
	if !strings.HasPrefix(errs, "plumbline: ") || strings.Contains(errs, "\nplumbline: ") || len(errs) < 40 {
		t.Errorf("this isn't one sentence after the program's name: %q", errs)
	}
	if found := insides.FindString(errs); found != "" {
		t.Errorf("%q is nothing for people, in: %s", found, errs)
	}
}

func (n *notebook) isRefused(t *testing.T, code int, args []string, says ...string) {
	t.Helper()
	refused{args: args, code: code, says: says}.check(t, n.try(args...), "")
}

// Without the right word nothing is answered; a code that is wrong three times
// ends the pairing. Neither laptop keeps anything.
func TestPairingIsRefused(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	tobin := newNotebook(t, "tobin", "Tobin Ash")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.start()
	before := mara.status()

	invite := mara.screen("invite", "Tobin Ash")
	address, word := invite.read("address"), invite.read("word")
	tobin.isRefused(t, exitRefused, []string{"join", address, "heron-otter"}, "check the address and the word")
	tobin.isRefused(t, exitRefused, []string{"join", net.JoinHostPort("127.0.0.1", strconv.Itoa(freePort(t))), word}, "127.0.0.1")

	tobin.isRefused(t, exitRefused, []string{"join", pageAddress(t, mara), word}, "no laptop of a staff listens there", "its page")

	join := tobin.screen("join", address, word)
	right := invite.read("code")
	join.read("code")
	for range 3 {
		join.enter(otherCode(right))
	}
	r := join.end()
	lines := strings.SplitAfter(r.errs, "\n") // the first two say that it was wrong
	r.errs = strings.Join(lines[max(0, len(lines)-2):], "")
	refused{code: exitRefused, says: []string{"wrong three times", "pair again"}}.check(t, r, "")

	if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
		t.Errorf("something was stored: %+v, before %+v", after, before)
	}
	if out := mara.do("roster"); strings.Contains(out, "Tobin Ash") {
		t.Errorf("the roster has who was refused:\n%s", out)
	}
	tobin.isRefused(t, exitRefused, []string{"add", "prospect", "name=Orrin Vale"}, "plumbline join")
}

// otherCode is six digits that aren't the given ones.
func otherCode(code string) string {
	for {
		if other := fmt.Sprintf("%06d", rand.IntN(1_000_000)); other != strings.ReplaceAll(code, " ", "") {
			return other
		}
	}
}

// A laptop of another staff never links. A revoked one is told so; what it
// writes later reaches others only through a laptop that hadn't heard of it, and
// is set aside as soon as the two meet who know.
func TestStrangersAndRevokedLaptopsAreRefused(t *testing.T) {
	mara, tobin, ira := newStaff(t)
	nell := newNotebook(t, "nell", "Nell Varr")
	nell.do("init", "--staff", "Low Ridge", "--person", "Nell Varr", "--root-file", filepath.Join(t.TempDir(), "root"))
	for _, n := range []*notebook{mara, tobin, ira, nell} {
		n.start()
	}
	linkUp(t, tobin, mara)
	linkUp(t, ira, mara)
	mara.do("add", "prospect", "name=Orrin Vale", "position=tackle")
	held := alike(t, mara, tobin, ira)
	alone := nell.status()

	nell.isRefused(t, exitRefused, []string{"connect", pageAddress(t, mara)}, "no laptop of a staff listens there", "no laptop of a staff listens there", "its page")
	nell.isRefused(t, exitRefused, []string{"connect", mara.address()}, mara.address(), "not a laptop of this staff")
	mara.isRefused(t, exitRefused, []string{"connect", nell.address()}, nell.address(), "not a laptop of this staff")
	if after := nell.status(); after.Entries != alone.Entries || after.StateHash != alone.StateHash {
		t.Errorf("the stranger has taken something: %+v, before %+v", after, alone)
	}
	if after := mara.status(); after.Entries != held.Entries || after.StateHash != held.StateHash {
		t.Errorf("something came from the stranger: %+v, before %+v", after, held)
	}

	tobin.stop()
	ira.stop()
	mara.do("revoke", "Tobin Ash")
	tobin.start()
	tobin.isRefused(t, exitRefused, []string{"connect", mara.address()}, mara.address(), "revoked")
	mara.stop()

	// Tobin and Ira haven't heard of it.
	ira.start()
	linkUp(t, tobin, ira)
	tobin.do("add", "prospect", "name=Wes Tarn", "position=tackle")
	alike(t, tobin, ira)
	if got := ira.texts("list", "--columns", "name"); got != "Orrin Vale\nWes Tarn" {
		t.Errorf("before it hears of the revocation, Ira's laptop lists %q", got)
	}
	tobin.stop()
	mara.start()
	linkUp(t, ira, mara)
	alike(t, mara, ira)
	for _, n := range []*notebook{mara, ira} {
		if got := n.texts("list", "--columns", "name"); got != "Orrin Vale" {
			t.Errorf("%s lists %q after the revocation", n.name, got)
		}
		if out := n.do("aside"); !strings.Contains(out, "Tobin Ash") || !strings.Contains(out, "Wes Tarn") {
			t.Errorf("%s: what is set aside says\n%s", n.name, out)
		}
	}
	mara.isRefused(t, exitRefused, []string{"accept", "Tobin Ash", "--as-of", "AQAA"}, "--as-of")
	ira.isRefused(t, exitRefused, []string{"accept", "Tobin Ash", "--dry-run"}, "director")
	before := mara.status()
	shown := mara.do("accept", "Tobin Ash", "--dry-run")
	proposed := regexp.MustCompile(`accept 'Tobin Ash' --as-of (\S+)\n$`).FindStringSubmatch(shown)
	if !strings.Contains(shown, "would be accepted") || !strings.Contains(shown, "Wes Tarn") || proposed == nil {
		t.Fatalf("what would be accepted says\n%s", shown)
	}
	if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
		t.Errorf("it was only asked, and something was stored: %+v, before %+v", after, before)
	}
	mara.do("accept", "Tobin Ash", "--as-of", proposed[1])
	alike(t, mara, ira)
	for _, n := range []*notebook{mara, ira} {
		if got := n.texts("list", "--columns", "name"); got != "Orrin Vale\nWes Tarn" {
			t.Errorf("%s lists %q after what came meanwhile was accepted", n.name, got)
		}
	}
}

func TestPortsAndFoldersInUseAreRefused(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	taken, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	port := strconv.Itoa(taken.Addr().(*net.TCPAddr).Port)
	before := mara.status()
	mara.isRefused(t, exitRefused, []string{"run", "--no-beacon", "--listen", "127.0.0.1", "--port", port}, "port "+port, "name another")
	mara.isRefused(t, exitRefused, []string{"run", "--no-beacon", "--listen", "127.0.0.1", "--api-port", port}, "port "+port, "choose another")
	mara.start()
	mara.isRefused(t, exitUnreachable, []string{"run", "--no-beacon", "--listen", "127.0.0.1:0"}, mara.data, "in use", "--data")
	if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
		t.Errorf("something was stored: %+v, before %+v", after, before)
	}
}

// A backup is laid down whole and sound, or not at all.
func TestRestoreIsRefused(t *testing.T) {
	mara := newNotebook(t, "mara", "Mara Quill")
	dir := t.TempDir()
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(dir, "root"))
	table := filepath.Join("testdata", "job", "class.csv")
	mara.do("import", "prospect", table, "--source", "North list")
	backup := filepath.Join(dir, "copy")
	mara.do("backup", backup)
	before := mara.status()
	mara.isRefused(t, exitRefused, []string{"restore", backup}, mara.data, "exists", "--data")
	if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
		t.Errorf("something was stored: %+v, before %+v", after, before)
	}

	good, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	// Each place where a name stands is changed: in an entry, or in what is folded
	// from it.
	at := bytes.Index(good, []byte("Wes Tarn"))
	if at < 0 {
		t.Fatal("the backup doesn't hold the name in clear")
	}
	damage := map[string][]byte{
		"changed":     bytes.ReplaceAll(good, []byte("Wes Tarn"), []byte("Wes Tern")),
		"changed-one": append(append(bytes.Clone(good[:at]), "Wes Tern"...), good[at+len("Wes Tern"):]...),
		"cut":         good[:len(good)/2],
		"other":       []byte("name,position\nOrrin Vale,tackle\n"),
		"empty":       {},
	}
	for name, content := range damage {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		ira := newNotebook(t, "ira", "Ira Quist")
		ira.isRefused(t, exitRefused, []string{"restore", path}, path, "restore an older")
		if _, err := os.Stat(ira.data); err == nil {
			t.Errorf("a backup that is %s left a data folder", name)
		}
	}
	ira := newNotebook(t, "ira", "Ira Quist")
	ira.isRefused(t, exitNotFound, []string{"restore", filepath.Join(dir, "nowhere")}, "nowhere")
	// A new laptop whose node has run already.
	harmless(t, "run", ira.runBriefly())
	if _, err := os.Stat(filepath.Join(ira.data, "plumbline.db")); err != nil {
		t.Fatal("running left no database here, so nothing is shown by what follows:", err)
	}
	ira.isRefused(t, exitRefused, []string{"list"}, "no staff", ira.data, "--data")
	ira.isRefused(t, exitRefused, []string{"restore", filepath.Join(dir, "cut")}, "restore an older")
	ira.do("restore", backup)
	if after := ira.status(); after.StateHash != before.StateHash {
		t.Errorf("restored: %+v, want %+v", after, before)
	}
}

// A full disk stores nothing by half. The folder lies on a small disk that is
// filled up, and on which space is made again.
func TestAFullDiskIsRefused(t *testing.T) {
	disk, dir := t.TempDir(), t.TempDir()
	if !mountSmall(t, disk) {
		t.Log("no disk can be mounted here: files that may not grow stand for it")
		noRoomInFiles(t)
		return
	}
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.data = filepath.Join(disk, "data")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(dir, "root"))
	mara.do("add", "prospect", "name=Orrin Vale")
	table, note := manyRows(t), filepath.Join(dir, "note")
	if err := os.WriteFile(note, []byte(strings.Repeat("Late hands. ", 2000)), 0o600); err != nil {
		t.Fatal(err)
	}
	before := mara.status()
	ballast := filepath.Join(disk, "ballast")
	for _, way := range []string{"stopped", "running"} {
		if way == "running" {
			mara.start()
		}
		fill(t, ballast, 1<<30)
		mara.isRefused(t, exitRefused, []string{"set", "Orrin Vale", "note=@" + note}, "the disk is full", "ree some space")
		fill(t, ballast, 5<<20)
		mara.isRefused(t, exitRefused, []string{"import", "prospect", table}, "the disk is full", "ree some space")
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
			t.Errorf("%s: something was stored: %+v, before %+v", way, after, before)
		}
	}
	// With space again, work goes on.
	mara.do("set", "Orrin Vale", "position=tackle")
	mara.do("verify")
	mara.do("import", "prospect", table)
	mara.do("verify") // again on the running node: it looks at what is there now

	// A backup that doesn't fit is not laid down at all.
	backup := filepath.Join(dir, "copy")
	mara.do("backup", backup)
	fill(t, ballast, 1<<30)
	ira := newNotebook(t, "ira", "Ira Quist")
	ira.data = filepath.Join(disk, "restored")
	ira.isRefused(t, exitRefused, []string{"restore", backup}, ira.data, "the disk is full", "Free some space")
	if left, err := os.ReadDir(ira.data); err == nil && len(left) > 0 {
		t.Errorf("a restore that didn't fit left %v", left)
	}
}

// noRoomInFiles does the same where no disk can be mounted: the system lets no
// file of the command grow beyond half a MiB.
func noRoomInFiles(t *testing.T) {
	t.Helper()
	mara := newNotebook(t, "mara", "Mara Quill")
	mara.do("init", "--staff", "Harrow County", "--person", "Mara Quill", "--root-file", filepath.Join(t.TempDir(), "root"))
	before := mara.status()
	limited := append([]string{"-c", "ulimit -f 1024; exec plumbline \"$@\"", "sh"}, mara.args("import", "prospect", manyRows(t))...)
	refused{code: exitRefused, says: []string{"disk", "nothing of this was saved"}}.check(t, finish(t, exec.CommandContext(t.Context(), "sh", limited...)), "")
	if after := mara.status(); after.Entries != before.Entries || after.StateHash != before.StateHash {
		t.Errorf("something was stored: %+v, before %+v", after, before)
	}
	mara.do("verify")
}

// TestFilesThatMayNotGrow is the way of the full disk that needs no superuser.
func TestFilesThatMayNotGrow(t *testing.T) { noRoomInFiles(t) }

// manyRows is a table of which an import needs some two MiB.
func manyRows(t *testing.T) string {
	t.Helper()
	rows := "name,position,school,class_year\n"
	for i := range 4000 {
		rows += fmt.Sprintf("Row %d,guard,Stone Ferry,2027\n", i)
	}
	path := filepath.Join(t.TempDir(), "class.csv")
	if err := os.WriteFile(path, []byte(rows), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// mountSmall mounts a disk of six MiB in memory, which Linux lets a superuser do.
func mountSmall(t *testing.T, dir string) bool {
	t.Helper()
	return mountDisk(t, dir, "-t", "tmpfs", "-o", "size=6m", "tmpfs")
}

// mountDisk mounts what the arguments say until the test ends.
func mountDisk(t *testing.T, dir string, args ...string) bool {
	t.Helper()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		return false
	}
	if out, err := exec.Command("mount", append(args, dir)...).CombinedOutput(); err != nil {
		t.Logf("mount: %v: %s", err, out) // as in a container
		return false
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", "-l", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	return true
}

// fill writes a file of that size, or of what the disk still holds.
func fill(t *testing.T, name string, size int) {
	t.Helper()
	file, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	for block := make([]byte, 4096); err == nil && size > 0; size -= len(block) {
		_, err = file.Write(block)
	}
}

// pageAddress is where a laptop's node serves its page.
func pageAddress(t *testing.T, n *notebook) string {
	t.Helper()
	address, err := rpc.ReadAddress(n.state)
	if err != nil {
		t.Fatal(err)
	}
	return address.Address
}

// One number for all rows would make them one rep, entered over and over.
func TestNoValueIsAdvisedForWhatTellsRowsApart(t *testing.T) {
	for _, c := range []struct{ kind, header, apart, alike string }{
		{"rep", "name,school,class_year,date,home,away\n", "number", ""},
		{"rep", "name,school,class_year,number,home,away\n", "", "date"},
		{"prospect", "position\n", "name", "school"},
	} {
		var told *advice
		err := adviseImport(&v1.ImportRequest{Kind: c.kind, File: "film.csv", Data: []byte(c.header)}, node.ErrInvalid)
		if !errors.As(err, &told) || c.apart != "" && (!strings.Contains(told.text, "--map COLUMN="+c.apart) || strings.Contains(told.text, "--set "+c.apart)) {
			t.Errorf("%s of %s: %v", c.kind, c.header, err)
		}
		if c.alike != "" && !strings.Contains(err.Error(), "--set "+c.alike+"=VALUE") {
			t.Errorf("%s of %s: nothing advises one %s for all rows: %v", c.kind, c.header, c.alike, err)
		}
	}
}

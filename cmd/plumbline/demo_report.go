package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// trialReport is what demo prints with --json.
type trialReport struct {
	Seed          uint64           `json:"seed"`
	Staff         string           `json:"staff"`
	Folder        string           `json:"folder"`
	Kept          bool             `json:"kept"`
	Laptops       []laptopReport   `json:"laptops"`
	Common        uint32           `json:"common"` // entries that all held before they went apart
	LinkedSeconds float64          `json:"linked_seconds"`
	Conflicts     []conflictReport `json:"conflicts"`
	Doubles       [][2]string      `json:"doubles"`
	Settled       []string         `json:"settled"`
	Where         string           `json:"where"`
	AnswersEqual  bool             `json:"answers_equal"`
	Answer        json.RawMessage  `json:"answer"`

	headings int
}

// laptopReport says what a laptop held before the others were met and after, and
// where it is.
type laptopReport struct {
	Person  string  `json:"person"`
	Device  string  `json:"device"`
	Data    string  `json:"data"`
	State   string  `json:"state"`
	API     string  `json:"api"`
	Process int     `json:"process"`
	Before  holding `json:"before"`
	After   holding `json:"after"`
	Final   holding `json:"final"`
}

// holding is what a laptop holds.
type holding struct {
	Records   map[string]uint32 `json:"records"`
	Entries   uint32            `json:"entries"`
	StateHash string            `json:"state_hash"`
}

type conflictReport struct {
	Record string        `json:"record"`
	Field  string        `json:"field"`
	Values []valueReport `json:"values"`
}

type valueReport struct {
	Text    string `json:"text"`
	Person  string `json:"person"`
	Written string `json:"written"`
	Source  string `json:"source,omitempty"`
}

// countedKinds are the records that tables show.
var countedKinds = []string{"prospect", "measurement", "game", "look", "rep", "evaluation"}

const margin = "   "

func (t *trial) introduce() {
	for _, l := range t.laptops {
		t.report.Laptops = append(t.report.Laptops, laptopReport{
			Person: l.person.Name, Device: l.person.Laptop, Data: l.data, State: l.state, API: fmt.Sprintf("http://127.0.0.1:%d", l.apiPort),
		})
	}
	t.write(func(w io.Writer) {
		fmt.Fprintf(w, "Three laptops of an invented staff, each a process on this machine. All names are\ninvented; --seed %d makes the same world again.\n", t.report.Seed)
	})
}

// write prints for people; with --json there is nothing for them. A terminal that
// can't be written to shows at the end.
func (t *trial) write(words func(io.Writer)) {
	if t.json {
		return
	}
	var b bytes.Buffer
	words(&b)
	for line := range strings.Lines(b.String()) {
		if line != "\n" {
			line = margin + line
		}
		fmt.Fprint(t.out, line)
	}
}

func (t *trial) say(format string, args ...any) {
	t.write(func(w io.Writer) { fmt.Fprintf(w, format+"\n", args...) })
}

func (t *trial) heading(text string) {
	t.report.headings++
	if !t.json {
		fmt.Fprintf(t.out, "\n%d  %s\n", t.report.headings, text)
	}
}

func (t *trial) tell(rows func() [][]string) {
	t.write(func(w io.Writer) { table(w, "", rows()) })
}

// holdings is a table of what the laptops hold.
func (t *trial) holdings(of func(laptopReport) holding) [][]string {
	head := []string{"", "laptop"}
	for _, kind := range countedKinds {
		head = append(head, kind+"s")
	}
	rows := [][]string{append(head, "entries", "state")}
	for _, l := range t.report.Laptops {
		held := of(l)
		row := []string{l.Person, l.Device}
		for _, kind := range countedKinds {
			row = append(row, fmt.Sprint(held.Records[kind]))
		}
		rows = append(rows, append(row, fmt.Sprint(held.Entries), short(held.StateHash)))
	}
	return rows
}

// short is the beginning of a hash, enough to compare by eye.
func short(hash string) string { return hash[:min(len(hash), 12)] }

func spell(d time.Duration) string {
	if d < time.Second {
		return fmt.Sprintf("%d ms", d.Milliseconds())
	}
	return fmt.Sprintf("%.1f s", d.Seconds())
}

// conclude says how to look around, or how to go on.
func (t *trial) conclude(ctx context.Context, f demoFlags) error {
	t.report.Folder, t.report.Kept = t.folder, f.keep != ""
	for _, l := range t.laptops {
		t.report.Laptops[l.index].Process = l.running.Process.Pid
	}
	if t.json {
		return t.printPlain(t.report)
	}
	if !f.once {
		t.heading("Look around")
		t.say("The three laptops run on until you press Ctrl-C. Each has a page, whose address works once:")
		if err := t.pages(ctx, t.laptops...); err != nil {
			return err
		}
		t.say("")
		t.tryOn(t.laptops[0], "conflicts")
		t.tryOn(t.laptops[1], "show", t.world.Twice.First)
		t.tryOn(t.laptops[2], "status")
	}
	if f.keep != "" {
		t.heading("To go on later")
		t.say("The folders stay in %s, with the staff's root, which belongs on paper, in %s.", t.folder, rootFile)
		for _, l := range t.laptops {
			t.tryOn(l, "run")
		}
	}
	return nil
}

func (t *trial) tryOn(l *demoLaptop, words ...string) {
	line := (&app{namedData: l.data, namedState: l.state}).command(words...)
	t.say("%s%s", quoted(os.Args[0]), strings.TrimPrefix(line, "plumbline"))
}

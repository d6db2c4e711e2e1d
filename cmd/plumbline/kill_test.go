package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbline/storage/storagetest"
)

// killsName is the variable that says how many processes are killed in all, here
// and in the storage's tests. What runs at every change is a smaller share.
const killsName = "PLUMBLINE_TEST_KILLS"

// kills is how many of twenty parts of all kills fall to one test.
func kills(t *testing.T, parts int) int {
	t.Helper()
	all := 30
	if given := os.Getenv(killsName); given != "" {
		var err error
		if all, err = strconv.Atoi(given); err != nil {
			t.Fatalf("%s: %v", killsName, err)
		}
	}
	return max(1, all*parts/20)
}

// parts is how many times everybody works through three commands in each round.
const parts = 2

// TestKilledAtAnyMoment kills one of three laptops (kill -9, as a power cut
// does) at a random moment while all three write, import and exchange, and
// starts it again, time after time. Nobody does anything else about it. In the
// end nothing that a command acknowledged is missing anywhere, no import is there
// by half, and all laptops hold the same.
func TestKilledAtAnyMoment(t *testing.T) {
	random, rounds := storagetest.Seeded(t), kills(t, 8)
	mara, tobin, ira := newStaff(t)
	staff := []*notebook{mara, tobin, ira}
	mara.do("import", "prospect", filepath.Join("testdata", "job", "class.csv"), "--source", "North list")
	for _, n := range staff {
		n.start()
	}
	linkUp(t, tobin, mara)
	linkUp(t, ira, mara)
	linkUp(t, ira, tobin)
	alike(t, staff...)
	killedWhileCatchingUp(t, random, mara, ira)

	saved := &acknowledged{}
	for round := range rounds {
		victim := staff[random.IntN(len(staff))]
		after := time.Duration(random.IntN(150)) * time.Millisecond
		command := random.IntN(3) == 0
		var all sync.WaitGroup
		for _, n := range staff {
			all.Go(func() {
				for part := range parts {
					saved.work(n, fmt.Sprintf("%s in round r%d part p%d", n.name, round, part), n == victim)
				}
			})
		}
		<-time.After(after) // the random moment
		victim.kill()
		if command {
			// Now its commands work on the folder themselves, and one of them is
			// killed as well.
			<-time.After(after)
			victim.killCommand()
			all.Wait()
		}
		victim.start()
		all.Wait()
	}
	held := alike(t, staff...)
	t.Logf("%d entries on each; acknowledged: %d notes, %d imports of %d rows, %d changes; %d commands failed",
		held.Entries, len(saved.notes), len(saved.imports), importRows, len(saved.changes), saved.failed)
	if len(saved.notes) < 2*rounds*parts || len(saved.imports) < 2*rounds*parts || len(saved.changes) < rounds {
		t.Error("too little was acknowledged to show anything")
	}
	for _, n := range staff {
		saved.check(n)
		n.do("verify")
		n.stop()
		n.do("verify")
		if s := n.status(); s.StateHash != held.StateHash || s.Entries != held.Entries {
			t.Errorf("%s stopped: %+v, running %+v", n.name, s, held)
		}
	}
}

// killedWhileCatchingUp lets a laptop that was away pull thousands of entries, and
// kills it again and again while it does.
func killedWhileCatchingUp(t *testing.T, random *rand.Rand, ahead, behind *notebook) {
	t.Helper()
	behind.stop()
	ahead.do("import", "prospect", manyRows(t), "--source", "South list")
	had, last := behind.status().Entries, ahead.status().Entries
	times := kills(t, 3)
	for range times {
		behind.launch()
		<-time.After(time.Duration(random.IntN(150)) * time.Millisecond)
		behind.kill()
		now := behind.status().Entries
		if now < had || now > last {
			t.Errorf("%s held %d entries of %d, and after a kill %d", behind.name, had, last, now)
		}
		had = now
	}
	behind.start()
	t.Logf("%d of %d entries were there after %d kills", had, last, times)
	alike(t, ahead, behind)
}

// importRows is enough that an import can be met halfway.
const importRows = 40

// acknowledged is what commands that ended with 0 had saved.
type acknowledged struct {
	mu             sync.Mutex
	notes, changes []string // what they say, which is unique
	imports        []string // prefixes of the names
	attempts       []string // imports, acknowledged or not
	failed         int
}

// work is what a laptop's person does: three commands.
func (a *acknowledged) work(n *notebook, mark string, dying bool) {
	add := func(list *[]string, r result) {
		a.mu.Lock()
		defer a.mu.Unlock()
		switch {
		case r.code == exitDone:
			*list = append(*list, mark)
		case !dying && r.code != exitUnseen || strings.Contains(r.errs, "panic"):
			n.t.Errorf("%s, which wasn't killed: exit code %d: %s", mark, r.code, r.errs)
		default:
			a.failed++
		}
	}
	add(&a.notes, n.killable("", "add", "note", "prospect=Orrin Vale", "text="+mark))
	a.mu.Lock()
	a.attempts = append(a.attempts, mark)
	a.mu.Unlock()
	var table strings.Builder
	table.WriteString("name,position,school,class_year\n")
	for i := range importRows {
		fmt.Fprintf(&table, "%s row w%d,guard,Stone Ferry,2027\n", mark, i)
	}
	add(&a.imports, n.killable(table.String(), "import", "prospect", "-", "--source", mark))
	add(&a.changes, n.change("Wes Tarn", "hometown", mark))
}

// change writes a field as a person does who reads it first: it replaces what
// was read, or settles it.
func (n *notebook) change(record, name, text string) result {
	r := n.killable("", "show", record, "--json")
	var shown struct {
		Record struct {
			Fields []field `json:"fields"`
		} `json:"record"`
	}
	if r.code != exitDone || json.Unmarshal([]byte(r.out), &shown) != nil {
		return r
	}
	args := []string{"set", record, name + "=" + text}
	for _, f := range shown.Record.Fields {
		if f.Name != name {
			continue
		}
		if len(f.Values) > 1 {
			args = []string{"settle", record, name, "--value", text}
		}
		for _, v := range f.Values {
			args = append(args, "--seen", v.ID)
		}
	}
	return n.killable("", args...)
}

// killable runs a command that killCommand can end.
func (n *notebook) killable(stdin string, args ...string) result {
	cmd := n.command(stdin, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	n.mu.Lock()
	err := cmd.Start()
	n.running = cmd
	n.mu.Unlock()
	if err != nil {
		n.t.Error(err)
		return result{code: -1}
	}
	_ = cmd.Wait() // the exit code tells
	return result{out.String(), errs.String(), cmd.ProcessState.ExitCode()}
}

func (n *notebook) killCommand() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.running != nil {
		_ = n.running.Process.Kill() // it may have ended by itself
	}
}

// check reads back on one laptop all that was acknowledged anywhere.
func (a *acknowledged) check(n *notebook) {
	n.t.Helper()
	count := map[string]int{}
	for _, line := range strings.Split(n.texts("list", "note", "--columns", "text"), "\n") {
		count["note "+line]++
	}
	for _, line := range strings.Split(n.texts("list", "prospect", "--columns", "name"), "\n") {
		source, _, _ := strings.Cut(line, " row ")
		count["import "+source]++
	}
	held := ledger{}
	n.accountRecord("prospect", "Wes Tarn", held, n.liveValues(map[string][]string{"prospect": {"Wes Tarn"}}))
	for f, times := range held {
		count["change "+f.text] += times
	}
	for kind, all := range map[string]struct {
		marks []string
		want  int
	}{"note ": {a.notes, 1}, "import ": {a.imports, importRows}, "change ": {a.changes, 1}} {
		for _, mark := range all.marks {
			if got := count[kind+mark]; got != all.want {
				n.t.Errorf("%s lacks what was acknowledged: %s%s is there %d times, want %d", n.name, kind, mark, got, all.want)
			}
		}
	}
	for _, mark := range a.attempts {
		if got := count["import "+mark]; got != 0 && got != importRows {
			n.t.Errorf("%s holds %d of the %d rows of one import, %s", n.name, got, importRows, mark)
		}
	}
}

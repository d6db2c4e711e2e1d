package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"

	"plumbline/node/demo"
	v1 "plumbline/proto/plumbline/v1"

	"google.golang.org/protobuf/encoding/protojson"
)

// built is the program itself, under its own name: the demonstration starts what
// it was started as three times more. The tests' binary is the program when it is
// called so, see TestMain.
func built(t *testing.T) string {
	t.Helper()
	tests, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(t.TempDir(), "plumbline")
	if runtime.GOOS == "windows" {
		program += ".exe"
	}
	if os.Link(tests, program) == nil {
		return program
	}
	data, err := os.ReadFile(tests) // on another disk
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, data, 0o700); err != nil {
		t.Fatal(err)
	}
	return program
}

// runOn gives what the program prints on a laptop's folders.
func runOn(t *testing.T, program string, l laptopReport, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(program, slices.Concat([]string{"--data", l.Data, "--state", l.State}, args)...)
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", args, err, &said)
	}
	return out
}

// demonstrationIn starts a demonstration whose temporary files go to a folder.
func demonstrationIn(folder, program string, args ...string) *exec.Cmd {
	cmd := exec.Command(program, slices.Concat([]string{"demo", "--json"}, args)...)
	cmd.Env = append(os.Environ(), "TMPDIR="+folder, "TMP="+folder, "TEMP="+folder)
	return cmd
}

func readReport(t *testing.T, data []byte) trialReport {
	t.Helper()
	var got trialReport
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatalf("%v in %s", err, data)
	}
	if len(got.Laptops) != 3 {
		t.Fatalf("%d laptops", len(got.Laptops))
	}
	return got
}

// isEmpty also tells that no process is left that has a folder open.
func isEmpty(t *testing.T, folder string) {
	t.Helper()
	left, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range left {
		t.Errorf("%s is left behind", entry.Name())
	}
}

// alive reports whether a process is there.
func alive(pid int) bool {
	process, err := os.FindProcess(pid)
	return err == nil && process.Signal(syscall.Signal(0)) == nil
}

// What it claims is checked from outside: by what its folders, once kept, say to
// the commands, and against the world that it was made from.
func TestDemonstrationKeepsItsWord(t *testing.T) {
	program, temporary, kept := built(t), t.TempDir(), filepath.Join(t.TempDir(), "kept here")
	cmd := demonstrationIn(temporary, program, "--once", "--keep", kept, "--seed", "5")
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, &said)
	}
	isEmpty(t, temporary)
	got, world := readReport(t, out), demo.New(5, demo.Small)
	for _, l := range got.Laptops {
		checkHeld(t, got, l)
		status := &v1.StatusResponse{}
		if err := protojson.Unmarshal(runOn(t, program, l, "status", "--json"), status); err != nil {
			t.Fatal(err)
		}
		if status.GetStateHash() != l.Final.StateHash || status.GetStateHash() != got.Laptops[0].Final.StateHash || status.GetPersonName() != l.Person {
			t.Errorf("the folder of %s holds state %s of %s, and %s was said", l.Device, status.GetStateHash(), status.GetPersonName(), l.Final.StateHash)
		}
		// The jersey is settled. The others stand.
		if int(status.GetConflicts()) != len(world.Disputes())-1 {
			t.Errorf("%s: %d conflicts are left", l.Device, status.GetConflicts())
		}
	}
	checkAnswers(t, program, got)
	checkDoubts(t, got, world)
}

// checkHeld compares what a laptop held before and after with the world's sizes.
func checkHeld(t *testing.T, got trialReport, l laptopReport) {
	t.Helper()
	if alive(l.Process) {
		t.Errorf("process %d of %s is still there", l.Process, l.Device)
	}
	for kind, n := range map[string]uint32{"prospect": 66, "game": 4, "look": 30, "rep": 600, "evaluation": 90} {
		if l.After.Records[kind] != n {
			t.Errorf("%s holds %d of %s, want %d", l.Device, l.After.Records[kind], kind, n)
		}
	}
	if l.Final.Records["prospect"] != 65 {
		t.Errorf("%s lists %d prospects after two were joined", l.Device, l.Final.Records["prospect"])
	}
	sum := got.Common
	for _, one := range got.Laptops {
		sum += one.Before.Entries - got.Common
	}
	if l.After.Entries != sum || l.After.StateHash != got.Laptops[0].After.StateHash || l.Before.Entries == sum {
		t.Errorf("%s held %d entries, then %d of %d, state %s", l.Device, l.Before.Entries, l.After.Entries, sum, l.After.StateHash)
	}
}

// checkAnswers asks the director's question of each folder.
func checkAnswers(t *testing.T, program string, got trialReport) {
	t.Helper()
	for _, l := range got.Laptops {
		answer := runOn(t, program, l, slices.Concat([]string{"list", "--json", "--where", got.Where, "--sort"},
			directorsQuestion.GetSort(), []string{"--columns", strings.Join(directorsQuestion.GetColumns(), ",")})...)
		var inReport, printed bytes.Buffer
		if err := errors.Join(json.Compact(&inReport, got.Answer), json.Compact(&printed, answer)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(printed.Bytes(), inReport.Bytes()) || !bytes.Contains(answer, []byte(`"title"`)) {
			t.Errorf("%s answers %s; the report says %s", l.Device, answer, got.Answer)
		}
	}
}

func checkDoubts(t *testing.T, got trialReport, world *demo.World) {
	t.Helper()
	var disputed []demo.Dispute
	for _, c := range got.Conflicts {
		disputed = append(disputed, demo.Dispute{Record: c.Record, Field: c.Field})
		for _, v := range c.Values {
			if v.Person == "" || v.Written == "" || v.Text == "" {
				t.Errorf("%s of %s: %+v", c.Field, c.Record, v)
			}
		}
	}
	for _, want := range world.Disputes() {
		if !slices.Contains(disputed, want) {
			t.Errorf("%v is not in conflict", want)
		}
	}
	if len(disputed) != len(world.Disputes()) {
		t.Errorf("in conflict: %v, want %v", disputed, world.Disputes())
	}
	if len(got.Doubles) != 1 || !slices.Contains(got.Doubles[0][:], world.Twice.First) || !slices.Contains(got.Doubles[0][:], world.Twice.Second) {
		t.Errorf("suggested: %v, want %s and %s", got.Doubles, world.Twice.First, world.Twice.Second)
	}
}

func TestDemonstrationOnceLeavesNothing(t *testing.T) {
	temporary := t.TempDir()
	out, err := demonstrationIn(temporary, built(t), "--once").Output()
	if err != nil {
		t.Fatal(err)
	}
	isEmpty(t, temporary)
	for _, l := range readReport(t, out).Laptops {
		if alive(l.Process) {
			t.Errorf("process %d of %s is still there", l.Process, l.Device)
		}
	}
}

func TestDemonstrationRefusesAFullFolder(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "x"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	var out, said bytes.Buffer
	err := Run(context.Background(), []string{"demo", "--once", "--keep", folder}, strings.NewReader(""), &out, &said)
	if exitCode(err) != exitUsage || !strings.Contains(err.Error(), "isn't empty") {
		t.Errorf("got %v", err)
	}
}

func TestDemonstrationStopsForReadersOnly(t *testing.T) {
	var out, said bytes.Buffer
	err := Run(context.Background(), []string{"demo", "--stops", "--json"}, strings.NewReader(""), &out, &said)
	if exitCode(err) != exitUsage || !strings.Contains(err.Error(), "--stops waits for a reader") {
		t.Errorf("got %v", err)
	}
}

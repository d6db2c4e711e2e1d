package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"plumbline/node/rpc"
)

// The scripts in testdata read like sessions. Besides testscript's own commands
// they have:
//
//	on LAPTOP ARGS…             plumbline with that laptop's folders
//	fails CODE LAPTOP ARGS…     the same, which must end with that exit code
//	port NAME                   set the variable to a port that is free
//	ready LAPTOP                wait until its node takes calls
//	pair LAPTOP NEW PERSON      invite PERSON on one laptop, join on the other; what
//	                            join said at last is in the file told
//	recover LAPTOP NEW ARGS…    invite with --recovery on one laptop, recover on the other
//	link LAPTOP OTHER           connect to where the other one listens
//	alike LAPTOP…               wait until all hold the same entries and state
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"plumbline": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"port": scriptPort, "on": scriptOn, "fails": scriptFails, "ready": scriptReady, "pair": scriptPair, "recover": scriptRecover, "link": scriptLink, "alike": scriptAlike,
		},
	})
}

// patience is how long a script waits for what must come: it only ends a test
// that would otherwise hang.
const patience = 2 * time.Minute

// laptop gives the command line for one laptop's folders.
func laptop(ts *testscript.TestScript, name string, args ...string) []string {
	return slices.Concat([]string{"--data", ts.MkAbs(filepath.Join(name, "data")), "--state", stateOf(ts, name)}, args)
}

func stateOf(ts *testscript.TestScript, name string) string {
	return ts.MkAbs(filepath.Join(name, "state"))
}

func scriptOn(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: on LAPTOP ARGS…")
	}
	err := ts.Exec("plumbline", laptop(ts, args[0], args[1:]...)...)
	if neg && err == nil {
		ts.Fatalf("it went well, and should have failed")
	}
	if !neg {
		ts.Check(err)
	}
}

func scriptFails(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 3 {
		ts.Fatalf("usage: fails CODE LAPTOP ARGS…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec("plumbline", laptop(ts, args[1], args[2:]...)...)
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != want {
		ts.Fatalf("ended with %v, want exit code %d", err, want)
	}
}

// scriptPort keeps away from the ports that systems give to outgoing
// connections: a script stops a node and starts it again on the same one.
func scriptPort(ts *testscript.TestScript, _ bool, args []string) {
	for {
		port := strconv.Itoa(20000 + rand.IntN(7000))
		listener, err := net.Listen("tcp4", "127.0.0.1:"+port)
		if err != nil {
			continue
		}
		ts.Check(listener.Close())
		ts.Setenv(args[0], port)
		return
	}
}

func scriptReady(ts *testscript.TestScript, _ bool, args []string) {
	wait(ts, "the node of "+args[0]+" to take calls", func(ctx context.Context) error {
		address, err := rpc.ReadAddress(stateOf(ts, args[0]))
		if err != nil || address.Token == "" {
			return errors.Join(err, errors.New("no token yet"))
		}
		client := rpc.Dial(address)
		defer client.Close()
		return client.Ping(ctx)
	})
}

// wait repeats a check until it goes well.
func wait(ts *testscript.TestScript, what string, check func(context.Context) error) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	for {
		err := check(ctx)
		if err == nil {
			return
		}
		if pause(ctx, 20*time.Millisecond) != nil {
			ts.Fatalf("waited in vain for %s: %v", what, err)
		}
	}
}

// standing is what status --json says, as far as the scripts compare it.
type standing struct {
	Entries   int      `json:"entries"`
	StateHash string   `json:"state_hash"`
	Addresses []string `json:"addresses"`
}

func statusOf(ctx context.Context, ts *testscript.TestScript, name string) (standing, error) {
	var s standing
	out, err := exec.CommandContext(ctx, "plumbline", laptop(ts, name, "status", "--json")...).Output()
	if err != nil {
		return s, err
	}
	return s, json.Unmarshal(out, &s)
}

func scriptLink(ts *testscript.TestScript, _ bool, args []string) {
	wait(ts, args[1]+" to listen", func(ctx context.Context) error {
		other, err := statusOf(ctx, ts, args[1])
		if err != nil || len(other.Addresses) == 0 {
			return errors.Join(err, errors.New("no address yet"))
		}
		return exec.CommandContext(ctx, "plumbline", laptop(ts, args[0], "connect", other.Addresses[0])...).Run()
	})
}

func scriptAlike(ts *testscript.TestScript, _ bool, args []string) {
	wait(ts, strings.Join(args, ", ")+" to hold the same", func(ctx context.Context) error {
		first, err := statusOf(ctx, ts, args[0])
		for _, name := range args[1:] {
			other, otherErr := statusOf(ctx, ts, name)
			if err = errors.Join(err, otherErr); err == nil && (other.Entries != first.Entries || other.StateHash != first.StateHash) {
				err = fmt.Errorf("%s has %+v, %s has %+v", args[0], first, name, other)
			}
		}
		return err
	})
}

// scriptPair does what two people do who sit side by side: read each screen and
// type on the other.
func scriptPair(ts *testscript.TestScript, _ bool, args []string) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	inviter := startScreen(ctx, ts, laptop(ts, args[0], append([]string{"invite"}, args[2:]...)...))
	address, word := inviter.read("address"), inviter.read("word")
	joiner := startScreen(ctx, ts, laptop(ts, args[1], "join", address, word, "--device", args[1]))
	ours, theirs := inviter.read("code"), joiner.read("code")
	inviter.enter(theirs)
	joiner.enter(ours)
	inviter.end()
	joiner.end()
	ts.Check(os.WriteFile(ts.MkAbs("told"), []byte(joiner.errs.String()+joiner.rest.String()), 0o600))
}

// scriptRecover does the same with a new laptop and the root on paper. Negated, it
// wants the recovery to fail, and the inviting side to end by itself.
func scriptRecover(ts *testscript.TestScript, neg bool, args []string) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	inviter := startScreen(ctx, ts, laptop(ts, args[0], "invite", "--recovery"))
	address, word := inviter.read("address"), inviter.read("word")
	joiner := startScreen(ctx, ts, laptop(ts, args[1], append([]string{"recover", address, word, "--device", args[1]}, args[2:]...)...))
	ours, theirs := inviter.read("code"), joiner.read("code")
	inviter.enter(theirs)
	joiner.enter(ours)
	if !neg {
		inviter.end()
		joiner.end()
		return
	}
	for _, s := range []*screen{joiner, inviter} {
		if err := s.cmd.Wait(); err == nil {
			ts.Fatalf("%v went well, and should have failed", s.cmd.Args)
		}
		ts.Logf("%s", &s.errs)
	}
	ts.Check(os.WriteFile(ts.MkAbs("said"), []byte(joiner.errs.String()), 0o600))
}

// screen is a command that a person reads and types on.
type screen struct {
	ts   *testscript.TestScript
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Scanner
	errs strings.Builder
	rest strings.Builder // what came after all that was waited for
}

func startScreen(ctx context.Context, ts *testscript.TestScript, args []string) *screen {
	s := &screen{ts: ts, cmd: exec.CommandContext(ctx, "plumbline", args...)}
	s.cmd.Dir = ts.MkAbs(".")
	in, err := s.cmd.StdinPipe()
	ts.Check(err)
	out, err := s.cmd.StdoutPipe()
	ts.Check(err)
	s.in, s.out, s.cmd.Stderr = in, bufio.NewScanner(out), &s.errs
	ts.Check(s.cmd.Start())
	return s
}

// read gives what stands behind a name, at the start of a line to come.
func (s *screen) read(name string) string {
	for s.out.Scan() {
		if value, ok := strings.CutPrefix(s.out.Text(), name+": "); ok {
			return value
		}
	}
	s.ts.Fatalf("%v ended without %s: %v: %s", s.cmd.Args, name, s.cmd.Wait(), &s.errs)
	return ""
}

func (s *screen) enter(line string) {
	_, err := fmt.Fprintln(s.in, line)
	s.ts.Check(err)
}

func (s *screen) end() {
	for s.out.Scan() {
		fmt.Fprintln(&s.rest, s.out.Text())
	}
	if err := s.cmd.Wait(); err != nil {
		s.ts.Fatalf("%v: %v: %s", s.cmd.Args, err, &s.errs)
	}
}

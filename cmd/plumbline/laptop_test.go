package main

import (
	"bufio"
	"bytes"
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
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbline/node/rpc"
)

// notebook is one laptop of a test: two folders, the program, and the command
// line as its only way in. All people, schools and numbers of these tests are
// invented.
type notebook struct {
	t           *testing.T
	name        string
	person      string
	data, state string
	port        int    // for links; the same at every start
	listen      string // where it takes links: a host, or nothing for all
	// inside is what a command begins with that runs in a network of its own.
	inside []string

	mu      sync.Mutex
	node    *exec.Cmd // while it runs
	said    *bytes.Buffer
	running *exec.Cmd // the command under way that may be killed
}

func newNotebook(t *testing.T, name, person string) *notebook {
	t.Helper()
	dir := filepath.Join(t.TempDir(), name)
	return &notebook{t: t, name: name, person: person, data: filepath.Join(dir, "data"), state: filepath.Join(dir, "state"), port: freePort(t), listen: "127.0.0.1"}
}

// freePort keeps away from the ports that systems give to outgoing connections:
// a node is stopped and started again on the same one.
func freePort(t *testing.T) int {
	t.Helper()
	for {
		port := 20000 + rand.IntN(7000)
		address := net.JoinHostPort("127.0.0.1", strconv.Itoa(port))
		stream, err := net.Listen("tcp4", address)
		if err != nil {
			continue
		}
		packets, err := net.ListenPacket("udp4", address)
		if err := errors.Join(err, stream.Close()); err != nil {
			continue
		}
		if err := packets.Close(); err != nil {
			t.Fatal(err)
		}
		return port
	}
}

func (n *notebook) address() string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(n.port)) }

func (n *notebook) args(args ...string) []string {
	return slices.Concat([]string{"--data", n.data, "--state", n.state}, args)
}

// result is how a command ended.
type result struct {
	out, errs string
	code      int
}

// try runs one command to its end.
func (n *notebook) try(args ...string) result { return n.tryWith("", args...) }

func (n *notebook) tryWith(stdin string, args ...string) result {
	return finish(n.t, n.command(stdin, args...))
}

func (n *notebook) command(stdin string, args ...string) *exec.Cmd {
	ctx, cancel := context.WithTimeout(n.t.Context(), patience)
	n.t.Cleanup(cancel)
	cmd := n.program(ctx, args...)
	cmd.Stdin = strings.NewReader(stdin)
	return cmd
}

func (n *notebook) program(ctx context.Context, args ...string) *exec.Cmd {
	all := slices.Concat(n.inside, []string{"plumbline"}, n.args(args...))
	return exec.CommandContext(ctx, all[0], all[1:]...)
}

func finish(t *testing.T, cmd *exec.Cmd) result {
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Errorf("%v: %v", cmd.Args, err) // not Fatal: it may run beside the test
		return result{code: -1}
	}
	return result{out.String(), errs.String(), cmd.ProcessState.ExitCode()}
}

// do runs a command that must go well, and gives what it prints.
func (n *notebook) do(args ...string) string {
	n.t.Helper()
	r := n.try(args...)
	if r.code != exitDone {
		n.t.Fatalf("%s: plumbline %s: exit code %d\n%s%s", n.name, strings.Join(args, " "), r.code, r.out, r.errs)
	}
	return r.out
}

// read decodes what a command prints with --json.
func (n *notebook) read(into any, args ...string) {
	n.t.Helper()
	out := n.do(append(args, "--json")...)
	if err := json.Unmarshal([]byte(out), into); err != nil {
		n.t.Fatalf("%s: plumbline %s --json: %v in\n%s", n.name, strings.Join(args, " "), err, out)
	}
}

// readBeside is read for checks that run beside the test's own goroutine, which
// alone may end the test.
func (n *notebook) readBeside(into any, args ...string) {
	args = append(args, "--json")
	r := n.try(args...)
	if err := json.Unmarshal([]byte(r.out), into); r.code != exitDone || err != nil {
		n.t.Errorf("%s: plumbline %s: exit code %d, %v\n%s", n.name, strings.Join(args, " "), r.code, err, r.errs)
	}
}

func (n *notebook) status() standing {
	n.t.Helper()
	var s standing
	n.read(&s, "status")
	return s
}

// start runs the node and waits until it takes calls.
func (n *notebook) start(flags ...string) {
	n.t.Helper()
	n.launch(flags...)
	n.ready()
}

func (n *notebook) launch(flags ...string) {
	n.t.Helper()
	if len(flags) == 0 {
		flags = []string{"--no-beacon"}
	}
	cmd := n.program(n.t.Context(), slices.Concat([]string{"run", "--listen", n.listen, "--port", strconv.Itoa(n.port)}, flags)...)
	said := &bytes.Buffer{}
	cmd.Stderr = said
	cmd.WaitDelay = patience
	if err := cmd.Start(); err != nil {
		n.t.Fatal(err)
	}
	n.mu.Lock()
	n.node, n.said = cmd, said
	n.mu.Unlock()
	n.t.Cleanup(func() { n.kill() })
}

func (n *notebook) ready() {
	n.t.Helper()
	process := n.node.Process.Pid
	eventually(n.t, "the node of "+n.name+" to take calls", func() error {
		address, err := rpc.ReadAddress(n.state)
		if err != nil {
			return err
		}
		if address.Process != process {
			return fmt.Errorf("api.json is of process %d, not of %d", address.Process, process)
		}
		if n.inside != nil { // its loopback address is another one than here
			if r := n.try("status"); r.code != exitDone {
				return errors.New(r.errs)
			}
			return nil
		}
		client := rpc.Dial(address)
		defer client.Close()
		return client.Ping(n.t.Context())
	})
}

// runBriefly runs a node until it ends by itself, or for two seconds.
func (n *notebook) runBriefly() result {
	cmd := n.command("", "run", "--no-beacon", "--listen", "127.0.0.1:0")
	stop := time.AfterFunc(2*time.Second, func() { _ = interrupt(cmd) }) // it may have ended
	defer stop.Stop()
	return finish(n.t, cmd)
}

// kill ends the node as a power cut does: kill -9.
func (n *notebook) kill() {
	if cmd := n.taken(); cmd != nil {
		_ = cmd.Process.Kill() // it may have ended by itself
		_ = cmd.Wait()
	}
}

// stop ends the node as Ctrl-C does.
func (n *notebook) stop() {
	n.t.Helper()
	cmd := n.taken()
	if cmd == nil {
		return
	}
	if err := errors.Join(interrupt(cmd), cmd.Wait()); err != nil {
		n.t.Fatalf("the node of %s ended with %v; it said: %s", n.name, err, n.said)
	}
}

func (n *notebook) taken() *exec.Cmd {
	n.mu.Lock()
	defer n.mu.Unlock()
	cmd := n.node
	n.node = nil
	return cmd
}

// interrupt is Ctrl-C. Windows has no such signal for single processes; there
// these tests end nodes the hard way, which loses nothing either.
func interrupt(cmd *exec.Cmd) error {
	if runtime.GOOS == "windows" {
		return cmd.Process.Kill()
	}
	return cmd.Process.Signal(os.Interrupt)
}

// eventually repeats a check until it goes well, or patience ends.
func eventually(t *testing.T, what string, check func() error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	for {
		err := check()
		if err == nil {
			return
		}
		if pause(ctx, 20*time.Millisecond) != nil {
			t.Fatalf("waited in vain for %s: %v", what, err)
		}
	}
}

// alike waits until all hold the same, and gives what that is.
func alike(t *testing.T, all ...*notebook) standing {
	t.Helper()
	var first standing
	eventually(t, "all to hold the same", func() error {
		first = all[0].status()
		for _, n := range all[1:] {
			if s := n.status(); s.Entries != first.Entries || s.StateHash != first.StateHash {
				return fmt.Errorf("%s has %+v, %s has %+v", all[0].name, first, n.name, s)
			}
		}
		return nil
	})
	return first
}

// linkUp turns one laptop to another until they are linked.
func linkUp(t *testing.T, n, other *notebook) {
	t.Helper()
	eventually(t, n.name+" to link with "+other.name, func() error {
		if r := n.try("connect", other.address()); r.code != exitDone {
			return errors.New(r.errs)
		}
		return nil
	})
}

// newStaff founds a staff with a director and two scouts, who joined face to
// face, and leaves their nodes stopped.
func newStaff(t *testing.T) (mara, tobin, ira *notebook) {
	t.Helper()
	mara = newNotebook(t, "mara", "Mara Quill")
	tobin = newNotebook(t, "tobin", "Tobin Ash")
	ira = newNotebook(t, "ira", "Ira Quist")
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--device", mara.name, "--root-file", filepath.Join(t.TempDir(), "root"))
	mara.start()
	pairUp(t, mara, tobin)
	pairUp(t, mara, ira)
	mara.stop()
	return mara, tobin, ira
}

// pairUp does what two people do who sit side by side: each reads the own
// screen and types on the other.
func pairUp(t *testing.T, inviter, joiner *notebook) {
	t.Helper()
	in := inviter.screen("invite", joiner.person, "--title", "area_scout")
	address, word := in.read("address"), in.read("word")
	join := joiner.screen("join", address, word, "--device", joiner.name)
	ours, theirs := in.read("code"), join.read("code")
	in.enter(theirs)
	join.enter(ours)
	for _, s := range []*desk{in, join} {
		r := s.end()
		if r.code != exitDone {
			t.Fatalf("%v: exit code %d: %s", s.cmd.Args, r.code, r.errs)
		}
		if whole := "plumbline join " + quoted(address) + " " + word; s == in && !strings.Contains(r.errs, whole) {
			t.Fatalf("%v says %q, which isn't the whole command %q to type on the other laptop", s.cmd.Args, r.errs, whole)
		}
	}
}

// desk is a command that a person reads and types on while it runs.
type desk struct {
	t    *testing.T
	cmd  *exec.Cmd
	in   io.Writer
	out  *bufio.Scanner
	errs bytes.Buffer
}

func (n *notebook) screen(args ...string) *desk {
	n.t.Helper()
	ctx, cancel := context.WithTimeout(n.t.Context(), patience)
	n.t.Cleanup(cancel)
	d := &desk{t: n.t, cmd: n.program(ctx, args...)}
	in, err1 := d.cmd.StdinPipe()
	out, err2 := d.cmd.StdoutPipe()
	d.cmd.Stderr = &d.errs
	if err := errors.Join(err1, err2, d.cmd.Start()); err != nil {
		n.t.Fatal(err)
	}
	d.in, d.out = in, bufio.NewScanner(out)
	return d
}

// read gives what stands behind a name, at the start of a line to come.
func (d *desk) read(name string) string {
	d.t.Helper()
	value, found := d.find(name)
	if !found {
		d.t.Fatalf("%v ended without %s: %v: %s", d.cmd.Args, name, d.cmd.Wait(), &d.errs)
	}
	return value
}

// find is read for a command that may end before.
func (d *desk) find(name string) (value string, found bool) {
	for !found && d.out.Scan() {
		value, found = strings.CutPrefix(d.out.Text(), name+": ")
	}
	return value, found
}

func (d *desk) enter(line string) {
	d.t.Helper()
	if _, err := fmt.Fprintln(d.in, line); err != nil {
		d.t.Fatal(err)
	}
}

// end waits for the command's end.
func (d *desk) end() result {
	for d.out.Scan() {
		// Read on, so that the command can write on.
	}
	_ = d.cmd.Wait() // the exit code tells
	return result{errs: d.errs.String(), code: d.cmd.ProcessState.ExitCode()}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// soundly verifies, and wants nothing to be wrong, nor mended.
func (n *notebook) soundly(t *testing.T) {
	t.Helper()
	r := n.try("verify")
	if r.code != exitDone || strings.Contains(r.out+r.errs, "anew") {
		t.Errorf("verify: exit code %d: %s%s", r.code, r.out, r.errs)
	}
}

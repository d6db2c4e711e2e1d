//go:build unix

package main

import (
	"bufio"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/gofrs/flock"

	"plumbline/node/rpc"
)

// await waits for what must come; it only ends a test that would otherwise hang.
func await(t *testing.T, what string, check func() bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	for !check() {
		if pause(ctx, 5*time.Millisecond) != nil {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

// Ctrl-C while it stands still at the end, or one of the three is gone: it ends
// well, and nothing is left.
func TestDemonstrationEndsByCtrlC(t *testing.T) {
	program := built(t)
	for _, killed := range []bool{false, true} {
		temporary := t.TempDir()
		cmd, got := standingStill(t, temporary, program)
		if killed {
			if err := killProcess(got.Laptops[1].Process); err != nil {
				t.Fatal(err)
			}
		}
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		if err := cmd.Wait(); (err != nil) != killed {
			t.Errorf("killed one: %v; ended with %v", killed, err)
		}
		isEmpty(t, temporary)
		for _, l := range got.Laptops {
			if alive(l.Process) {
				t.Errorf("process %d of %s is still there", l.Process, l.Device)
			}
		}
	}
}

func killProcess(pid int) error {
	process, err := os.FindProcess(pid)
	if err != nil {
		return err
	}
	return process.Kill()
}

// standingStill starts a demonstration and waits until everything was shown.
func standingStill(t *testing.T, temporary, program string, args ...string) (*exec.Cmd, trialReport) {
	t.Helper()
	cmd := demonstrationIn(temporary, program, args...)
	output, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() }) // after a failure; else it has ended
	line, err := bufio.NewReaderSize(output, 1<<20).ReadBytes('\n')
	if err != nil {
		t.Fatal(err)
	}
	got := readReport(t, line)
	for _, l := range got.Laptops {
		if !alive(l.Process) {
			t.Errorf("%s isn't running", l.Device)
		}
	}
	return cmd, got
}

// Ctrl-C at any moment: here as soon as the n-th process has come, which is while
// the laptops start, pair, import and link.
func TestDemonstrationStopsAtAnyMoment(t *testing.T) {
	program := built(t)
	for _, moment := range []int{0, 1, 3, 4, 6, 7} {
		temporary := t.TempDir()
		cmd := demonstrationIn(temporary, program)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		processes := map[int]bool{} // that were seen
		over := false
		await(t, "the laptops to start", func() bool {
			folders, err1 := filepath.Glob(filepath.Join(temporary, "*"))
			states, err2 := filepath.Glob(filepath.Join(temporary, "*", "*", "state"))
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			for _, state := range states {
				if a, err := rpc.ReadAddress(state); err == nil && a.Process != 0 {
					processes[a.Process] = true
				}
			}
			select {
			case err := <-ended:
				over = true
				t.Errorf("moment %d: it ended with %v", moment, err)
			default:
			}
			return over || len(folders) > 0 && len(processes) >= moment
		})
		if over {
			continue
		}
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		var exit *exec.ExitError
		if err := <-ended; err != nil && (!errors.As(err, &exit) || exit.ExitCode() != exitInterrupted) {
			t.Errorf("moment %d: it ended with %v, want exit code %d", moment, err, exitInterrupted)
		}
		isEmpty(t, temporary)
		for pid := range processes {
			if alive(pid) {
				t.Errorf("moment %d: process %d is still there", moment, pid)
			}
		}
	}
}

// Even when the demonstration itself is killed, the laptops' nodes close their
// folders and end.
func TestLaptopsEndWithTheDemonstration(t *testing.T) {
	cmd, got := standingStill(t, t.TempDir(), built(t), "--keep", filepath.Join(t.TempDir(), "kept"))
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil {
		t.Error("it was killed and ended well")
	}
	for _, l := range got.Laptops {
		await(t, l.Device+" to close", func() bool {
			address, err := rpc.ReadAddress(l.State)
			return err == nil && address.Token == ""
		})
		// The lock is the last that a node lets go of: then it writes no more.
		lock := flock.New(filepath.Join(l.Data, "lock"))
		await(t, l.Device+" to let its folder go", func() bool {
			free, err := lock.TryLock()
			return err == nil && free
		})
		if err := lock.Unlock(); err != nil {
			t.Error(err)
		}
	}
}

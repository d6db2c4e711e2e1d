package node

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"runtime/pprof"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The benchmarks run whole nodes over real links. A laptop that catches up is
// a process of its own, so that its time and memory are its own too:
//
//	go test -run '^$' -bench . -benchtime 1x ./node
//
// Each reports its baseline from the same run. Data is invented.

// childVar tells a process of the test binary that it is the laptop that
// catches up.
const childVar = "PLUMBLINE_BENCH_LAPTOP"

func TestMain(m *testing.M) {
	if order := os.Getenv(childVar); order != "" {
		if err := catchUp(order); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// order is what the process that catches up is told.
type order struct {
	Data, State string
	// Address is where to catch up from; empty to only open the folder.
	Address string
	Entries uint64
	// Idle is for how long to do nothing afterwards.
	Idle time.Duration
	// First says what to ask first, of questions.
	First string
}

// caughtUp is what it found.
type caughtUp struct {
	Open, Wall, CPU, Query, QueryCPU time.Duration
	Before, Anonymous                int64 // anonymous memory resident once open, and at most until calm, bytes
	Rows                             int
	Tidy, TidyCPU                    time.Duration // until what a start and what came before it leave to do was done
	Idle                             time.Duration // CPU while idle
	Resident                         int64         // anonymous memory after that
}

func catchUp(text string) error {
	var o order
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		return err
	}
	ctx := context.Background()
	var got caughtUp
	began := time.Now()
	n, err := Open(ctx, Config{Data: o.Data, State: o.State, Links: &Links{Host: "127.0.0.1", Port: -1}})
	if err != nil {
		return err
	}
	defer n.Close()
	if _, err := n.Status(ctx); err != nil {
		return err
	}
	got.Open = time.Since(began)
	got.Before = anonymous()
	most := highest()
	if o.Address != "" {
		if err := got.pull(ctx, n, o); err != nil {
			return err
		}
	}
	if o.Idle > 0 {
		got.Tidy, got.TidyCPU = untilCalm()
		got.Anonymous = most()
		cpu := cpuTime()
		time.Sleep(o.Idle)
		got.Idle, got.Resident = cpuTime()-cpu, anonymous()
	} else {
		got.Anonymous = most()
	}
	return json.NewEncoder(os.Stdout).Encode(got)
}

// untilCalm waits until this process has done little for two seconds, and says how
// long that took, and of the processors. To watch its own memory takes some.
func untilCalm() (wall, cpu time.Duration) {
	began, used := time.Now(), cpuTime()
	for calm := 0; calm < 2; {
		before := cpuTime()
		time.Sleep(time.Second)
		if cpuTime()-before < 50*time.Millisecond {
			calm++
		} else {
			calm = 0
		}
	}
	return time.Since(began) - 2*time.Second, cpuTime() - used
}

func (got *caughtUp) pull(ctx context.Context, n *Node, o order) error {
	stop, err := profile("pull")
	if err != nil {
		return err
	}
	began, cpu := time.Now(), cpuTime()
	if err := n.Connect(ctx, o.Address); err != nil {
		return err
	}
	for c := range n.Watch(ctx) {
		if c.Entries >= o.Entries {
			break
		}
	}
	got.Wall, got.CPU = time.Since(began), cpuTime()-cpu
	if err := stop(); err != nil {
		return err
	}
	if stop, err = profile("list"); err != nil {
		return err
	}
	asked, cpu := time.Now(), cpuTime()
	l, err := n.List(ctx, questions[o.First])
	if err != nil {
		return err
	}
	got.Query, got.QueryCPU, got.Rows = time.Since(asked), cpuTime()-cpu, len(l.Rows)
	return stop()
}

// profile writes what the laptop's processor does, while it pulls or lists, into
// a file in the folder that is named in the environment.
func profile(part string) (stop func() error, err error) {
	folder := os.Getenv("PLUMBLINE_BENCH_PROFILE")
	if folder == "" {
		return func() error { return nil }, nil
	}
	f, err := os.CreateTemp(folder, part+"-")
	if err != nil {
		return nil, err
	}
	return func() error {
		pprof.StopCPUProfile()
		return f.Close()
	}, pprof.StartCPUProfile(f)
}

// anonymous reads how much memory of the process is resident and no file's.
func anonymous() int64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0 // not on this system
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "RssAnon:"); ok {
			kib, _ := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")), 10, 64)
			return kib << 10
		}
	}
	return 0
}

// highest looks at the anonymous memory again and again, until what it returns is
// asked for the most.
func highest() (most func() int64) {
	stop, result := make(chan struct{}), make(chan int64)
	go func() {
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for most := anonymous(); ; most = max(most, anonymous()) {
			select {
			case <-tick.C:
			case <-stop:
				result <- most
				return
			}
		}
	}()
	return func() int64 { close(stop); return <-result }
}

func runChild(b *testing.B, o order) caughtUp {
	b.Helper()
	text, err := json.Marshal(o)
	require.NoError(b, err)
	cmd := exec.CommandContext(b.Context(), os.Args[0])
	cmd.Env, cmd.Stderr = append(os.Environ(), childVar+"="+string(text)), os.Stderr
	out, err := cmd.Output()
	require.NoError(b, err)
	var got caughtUp
	require.NoError(b, json.Unmarshal(out, &got))
	return got
}

// BenchmarkLinkUp starts three laptops of one staff and waits until each is
// linked with both others and holds the same.
func BenchmarkLinkUp(b *testing.B) {
	a := found(b)
	laptops := []*laptop{a, join(b, a, "Tove Lund", false), join(b, a, "Ilse Brandt", false)}
	connect(b, laptops[0], laptops[1])
	connect(b, laptops[0], laptops[2])
	connect(b, laptops[1], laptops[2])
	for b.Loop() {
		b.StopTimer()
		for _, l := range laptops {
			l.stopNow()
		}
		b.StartTimer()
		for _, l := range laptops {
			l.restart()
		}
		require.NoError(b, laptops[1].Connect(b.Context(), laptops[0].mesh.Address().String()))
		require.NoError(b, laptops[2].Connect(b.Context(), laptops[0].mesh.Address().String()))
		require.NoError(b, laptops[2].Connect(b.Context(), laptops[1].mesh.Address().String()))
		for _, l := range laptops {
			for len(l.linked()) < 2 {
				time.Sleep(time.Millisecond)
			}
		}
		agree(b, laptops...)
	}
}

//go:build netns

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// crowd founds a staff of so many laptops and leaves their nodes stopped. Names
// are invented.
func crowd(t *testing.T, staff string, count int) []*notebook {
	t.Helper()
	first := newNotebook(t, "director", "Director of "+staff)
	first.do("init", "--staff", staff, "--person", first.person, "--device", first.name, "--root-file", filepath.Join(t.TempDir(), "root"))
	all := []*notebook{first}
	first.start()
	for i := range count - 1 {
		n := newNotebook(t, fmt.Sprintf("scout-%d", i+1), fmt.Sprintf("Scout %d of %s", i+1, staff))
		pairUp(t, first, n)
		all = append(all, n)
	}
	first.stop()
	return all
}

// Thirty laptops on one bridge. It prints how long they take until each is
// linked with each, and what the network and the machine bear when nothing goes
// on.
func TestNetnsThirty(t *testing.T) {
	const count = 30
	all := crowd(t, "Harrow County", count)
	l := newLAN(t)
	for i, n := range all {
		l.plug(n, byte(i+1))
		n.port = 0
		n.launch("--beacon-port", "0")
	}
	began := time.Now()
	for _, n := range all {
		n.ready()
	}
	allLinked(t, count-1, all...)
	t.Logf("%d laptops, %d links: all linked %v after the last was started", count, count*(count-1)/2, time.Since(began).Round(10*time.Millisecond))
	began = time.Now()
	all[count-1].do("add", "prospect", "name=Orrin Vale")
	alike(t, all...)
	t.Logf("what one wrote was everywhere %v later", time.Since(began).Round(10*time.Millisecond))
	const idle = 20 * time.Second
	before := burdens(t, all)
	<-time.After(idle)
	after := burdens(t, all)
	cpu := (after.cpu - before.cpu).Seconds() / idle.Seconds() / count * 100
	sent := float64(after.sent-before.sent) / idle.Seconds() / count / 1000
	t.Logf("idle, each: %.2f %% of a core, %.2f kB/s sent, %d MiB of anonymous memory", cpu, sent, after.memory/count>>20)
	if cpu > 10 || sent > 100 {
		t.Error("thirty idle laptops aren't idle")
	}
}

// burden is what nodes have taken together.
type burden struct {
	cpu          time.Duration
	sent, memory int64
}

func burdens(t *testing.T, all []*notebook) (sum burden) {
	t.Helper()
	for _, n := range all {
		took := takenBy(t, n)
		sum.cpu += took.cpu
		sum.memory += took.memory
		// The counters of its own network: name, then what came in eight columns,
		// then what went.
		data, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(n.node.Process.Pid), "net", "dev"))
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(data)) {
			if counters, ok := strings.CutPrefix(strings.TrimSpace(line), "eth0:"); ok {
				bytes, err := strconv.ParseInt(strings.Fields(counters)[8], 10, 64)
				if err != nil {
					t.Fatal(err)
				}
				sum.sent += bytes
			}
		}
	}
	return sum
}

// Two staffs on one bridge: each links among itself, hears the other's beacons,
// and never links with it, nor even when told to.
func TestNetnsTwoStaffs(t *testing.T) {
	ours, theirs := crowd(t, "Harrow County", 3), crowd(t, "Low Ridge", 3)
	l := newLAN(t)
	var both []*notebook
	for i := range ours {
		both = append(both, ours[i], theirs[i])
	}
	for i, n := range both {
		l.plug(n, byte(i+1))
		n.runIt()
	}
	allLinked(t, 2, both...)
	heldByUs, heldByThem := alike(t, ours...), alike(t, theirs...)
	<-time.After(15 * time.Second) // five rounds of beacons, and longer than the patience with which links are tried
	for i, n := range both {
		other := both[(i+1)%len(both)].status().Addresses[0]
		n.isRefused(t, exitRefused, []string{"connect", other}, other, "not a laptop of this staff")
	}
	allLinked(t, 2, both...)
	if after := alike(t, ours...); after.Entries != heldByUs.Entries || after.StateHash != heldByUs.StateHash {
		t.Errorf("ours hold %+v, before %+v", after, heldByUs)
	}
	if after := alike(t, theirs...); after.Entries != heldByThem.Entries || after.StateHash != heldByThem.StateHash {
		t.Errorf("theirs hold %+v, before %+v", after, heldByThem)
	}
}

//go:build netns

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/netip"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// These tests run nodes as they are run in earnest, with a beacon and on all
// interfaces, each in a network namespace of its own that hangs on a bridge by a
// virtual cable. They need Linux, a superuser, iproute2 and nftables: .ci/netns.

// lan is a bridge that laptops are plugged into.
type lan struct {
	t     *testing.T
	space string // the network namespace of the bridge
	net   netip.Prefix
}

// spaces numbers the namespaces of this process.
var spaces atomic.Int32

func newSpace(t *testing.T) string {
	t.Helper()
	name := fmt.Sprintf("plumb-%d-%d", os.Getpid(), spaces.Add(1))
	sh(t, "ip", "netns", "add", name)
	t.Cleanup(func() { sh(t, "ip", "netns", "del", name) })
	sh(t, "ip", "-n", name, "link", "set", "lo", "up")
	return name
}

func newLAN(t *testing.T) *lan {
	t.Helper()
	l := &lan{t: t, space: newSpace(t), net: netip.MustParsePrefix("10.47.0.0/24")}
	sh(t, "ip", "-n", l.space, "link", "add", "bridge", "type", "bridge", "forward_delay", "0")
	sh(t, "ip", "-n", l.space, "link", "set", "bridge", "up")
	return l
}

func sh(t *testing.T, command ...string) {
	t.Helper()
	if out, err := exec.Command(command[0], command[1:]...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v: %s", strings.Join(command, " "), err, out)
	}
}

// moveIn gives a laptop a network of its own, without any cable yet. It listens
// on every interface that will come.
func (n *notebook) moveIn(t *testing.T) {
	t.Helper()
	n.inside = []string{"ip", "netns", "exec", newSpace(t)}
	n.listen = ""
}

func (n *notebook) space() string { return n.inside[3] }

// plug connects a laptop to the bridge with the address of that number.
func (l *lan) plug(n *notebook, host byte) {
	l.t.Helper()
	if n.inside == nil {
		n.moveIn(l.t)
	}
	end := fmt.Sprintf("to-%d", host)
	sh(l.t, "ip", "-n", l.space, "link", "add", end, "type", "veth", "peer", "name", "eth0", "netns", n.space())
	sh(l.t, "ip", "-n", l.space, "link", "set", end, "master", "bridge", "up")
	sh(l.t, "ip", "-n", n.space(), "link", "set", "eth0", "address", card(host), "up")
	n.address4(l.t, "add", host)
}

// card is the number of the network card of a laptop.
func card(host byte) string { return fmt.Sprintf("02:00:00:00:47:%02x", host) }

// address4 adds or takes an address of the bridge's network.
func (n *notebook) address4(t *testing.T, change string, host byte) {
	t.Helper()
	sh(t, "ip", "-n", n.space(), "address", change, fmt.Sprintf("10.47.0.%d/24", host), "broadcast", "10.47.0.255", "dev", "eth0")
}

// settleAddresses waits until a laptop may use its addresses of links: the system
// first asks whether anybody else has them (RFC 4862, 5.4).
func (n *notebook) settleAddresses(t *testing.T) {
	t.Helper()
	eventually(t, "addresses that may be used", func() error {
		out, err := exec.Command("ip", "-n", n.space(), "-6", "address", "show", "tentative").CombinedOutput()
		if err == nil && len(out) > 0 {
			err = fmt.Errorf("tentative: %s", out)
		}
		return err
	})
}

// cable pulls a laptop's cable out of the bridge, or puts it in again.
func (l *lan) cable(host byte, state string) {
	l.t.Helper()
	sh(l.t, "ip", "-n", l.space, "link", "set", fmt.Sprintf("to-%d", host), state)
}

// filter drops what comes to a laptop over its cable and fits; an empty rule lifts it.
func (n *notebook) filter(t *testing.T, rule string) {
	t.Helper()
	rules := "flush ruleset\n"
	if rule != "" {
		rules += "table inet siege { chain in { type filter hook input priority 0; policy accept; iifname eth0 " + rule + " drop; }; }\n"
	}
	cmd := exec.Command(n.inside[0], append(n.inside[1:], "nft", "-f", "-")...)
	cmd.Stdin = strings.NewReader(rules)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("nft %s: %v: %s", rules, err, out)
	}
}

// runIt starts a node as a person does: with a beacon, on whatever port is usual.
func (n *notebook) runIt() {
	n.t.Helper()
	n.port = 0
	n.start("--beacon-port", "0")
}

// linkedWith returns the persons whose laptops this one is linked with.
func (n *notebook) linkedWith() (map[string]bool, error) {
	var s struct {
		Peers []struct {
			Person string `json:"person_name"`
			Linked bool   `json:"linked"`
		} `json:"peers"`
	}
	r := n.try("status", "--json")
	if r.code != exitDone {
		return nil, errors.New(r.errs)
	}
	linked := map[string]bool{}
	if err := json.Unmarshal([]byte(r.out), &s); err != nil {
		return nil, err
	}
	for _, p := range s.Peers {
		if p.Linked {
			linked[p.Person] = true
		}
	}
	return linked, nil
}

// allLinked waits until each laptop is linked with so many others, and returns
// how long it took.
func allLinked(t *testing.T, with int, all ...*notebook) time.Duration {
	t.Helper()
	began := time.Now()
	for _, n := range all {
		eventually(t, fmt.Sprintf("%s to be linked with %d", n.name, with), func() error {
			linked, err := n.linkedWith()
			if err == nil && len(linked) != with {
				err = fmt.Errorf("it is linked with %d: %v", len(linked), linked)
			}
			return err
		})
	}
	return time.Since(began).Round(10 * time.Millisecond)
}

// three are a director and two scouts on one bridge, linked by beacon alone.
func three(t *testing.T) (*lan, []*notebook) {
	t.Helper()
	mara, tobin, ira := newStaff(t)
	all := []*notebook{mara, tobin, ira}
	l := newLAN(t)
	for i, n := range all {
		l.plug(n, byte(i+1))
		n.runIt()
	}
	t.Logf("three laptops linked by beacon in %v", allLinked(t, 2, all...))
	return l, all
}

// edits lets everybody write something, which all must hold in the end.
func edits(all []*notebook, what string) {
	for _, n := range all {
		n.do("add", "prospect", "name="+what+" by "+n.name)
	}
}

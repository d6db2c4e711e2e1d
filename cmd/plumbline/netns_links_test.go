//go:build netns

package main

import (
	"fmt"
	"net/netip"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A cable is pulled out and put in again.
func TestNetnsCable(t *testing.T) {
	l, all := three(t)
	l.cable(2, "down")
	edits(all, "apart")
	allLinked(t, 0, all[1])
	allLinked(t, 1, all[0], all[2])
	l.cable(2, "up")
	t.Logf("linked %v after the cable was back", allLinked(t, 2, all...))
	began := time.Now()
	alike(t, all...)
	t.Logf("alike %v later", time.Since(began).Round(time.Millisecond))
}

// Packets get through one way only: no link can live, and both ends notice. When
// both ways are open again, all link.
func TestNetnsOneWayLoss(t *testing.T) {
	_, all := three(t)
	all[1].filter(t, "ether saddr "+card(1))
	edits(all, "one way")
	allLinked(t, 1, all[:2]...)
	alike(t, all...) // by way of the third
	all[1].filter(t, "")
	t.Logf("linked %v after both ways were open", allLinked(t, 2, all...))
}

// A firewall lets nobody in. Whichever side has it, the other one is dialled.
func TestNetnsOneWayFirewall(t *testing.T) {
	mara, tobin, _ := newStaff(t)
	l := newLAN(t)
	for i, n := range []*notebook{mara, tobin} {
		l.plug(n, byte(i+1))
	}
	for _, closed := range []*notebook{mara, tobin} {
		closed.filter(t, "tcp flags syn / syn,ack") // what opens a connection (RFC 9293, 3.5)
		mara.runIt()
		tobin.runIt()
		t.Logf("%s lets nobody in: linked after %v", closed.name, allLinked(t, 1, mara, tobin))
		edits([]*notebook{mara, tobin}, "behind a firewall")
		alike(t, mara, tobin)
		mara.stop()
		tobin.stop()
		closed.filter(t, "")
	}
}

// A network without IPv4, on which nobody gives out addresses: laptops meet by those
// that each interface has of its link, and find each other again at other ones.
func TestNetnsOnlyIPv6(t *testing.T) {
	mara, tobin, _ := newStaff(t)
	l := newLAN(t)
	both := []*notebook{mara, tobin}
	for i, n := range both {
		l.plug(n, byte(i+1))
		n.address4(t, "del", byte(i+1))
		n.runIt()
	}
	t.Logf("linked after %v", allLinked(t, 1, both...))
	edits(both, "over the link's own addresses")
	alike(t, both...)
	l.cable(2, "down")
	sh(t, "ip", "-n", tobin.space(), "link", "set", "eth0", "down")
	allLinked(t, 0, both...)
	sh(t, "ip", "-n", tobin.space(), "link", "set", "eth0", "address", card(99))
	sh(t, "ip", "-n", tobin.space(), "link", "set", "eth0", "up")
	l.cable(2, "up")
	t.Logf("linked %v after another address", allLinked(t, 1, both...))
	edits(both, "at another address")
	alike(t, both...)
}

// Where a network has no IPv4 and nobody gives out addresses, an invitation still shows
// one that can be typed. It says nothing of interfaces, of which the joiner has two.
func TestNetnsInviteOverIPv6(t *testing.T) {
	mara, tobin := newNotebook(t, "mara", "Mara Quill"), newNotebook(t, "tobin", "Tobin Ash")
	mara.do("init", "--staff", "Harrow County", "--person", mara.person, "--device", mara.name, "--root-file", filepath.Join(t.TempDir(), "root"))
	elsewhere, l := newLAN(t), newLAN(t)
	elsewhere.plug(tobin, 7)
	sh(t, "ip", "-n", tobin.space(), "link", "set", "eth0", "down")
	sh(t, "ip", "-n", tobin.space(), "link", "set", "eth0", "name", "aside")
	sh(t, "ip", "-n", tobin.space(), "link", "set", "aside", "up")
	sh(t, "ip", "-n", tobin.space(), "address", "flush", "dev", "aside", "scope", "global")
	for i, n := range []*notebook{mara, tobin} {
		l.plug(n, byte(i+1))
		n.address4(t, "del", byte(i+1))
		n.settleAddresses(t)
	}
	in := mara.screen("invite", tobin.person)
	local := netip.MustParseAddrPort(in.read("address"))
	must(t, interrupt(in.cmd))
	in.end()
	if !local.Addr().IsLinkLocalUnicast() || local.Addr().Zone() != "" {
		t.Errorf("the invitation shows %s", local)
	}
	pairUp(t, mara, tobin)
	both := []*notebook{mara, tobin}
	for _, n := range both {
		n.runIt()
	}
	tobin.do("connect", mara.status().Addresses[0])
	for i, n := range both {
		sh(t, "ip", "-n", n.space(), "address", "add", fmt.Sprintf("fd00:47::%d/64", i+1), "dev", "eth0", "nodad")
	}
	if at := mara.status().Addresses; len(at) != 1 || !strings.HasPrefix(at[0], "[fd00:47::1]") {
		t.Errorf("a laptop with an address of the network shows %v", at)
	}
	t.Logf("linked after %v", allLinked(t, 1, mara, tobin))
}

// One packet in twenty is lost, in both directions.
func TestNetnsLoss(t *testing.T) {
	_, all := three(t)
	for _, n := range all {
		n.filter(t, "numgen random mod 100 < 5")
	}
	all[0].do("import", "prospect", manyRows(t), "--source", "North list")
	edits(all, "with loss")
	began := time.Now()
	alike(t, all...)
	t.Logf("4,000 rows were on all laptops %v later", time.Since(began).Round(time.Millisecond))
}

// A laptop gets another address, as when it moves from one room to another.
func TestNetnsAddressChange(t *testing.T) {
	_, all := three(t)
	all[1].address4(t, "del", 2)
	all[1].address4(t, "add", 77)
	edits(all, "moved")
	began := time.Now()
	alike(t, all...)
	t.Logf("alike %v after the address changed", time.Since(began).Round(10*time.Millisecond))
	allLinked(t, 2, all...)
}

// A laptop sleeps while the others work on, and wakes up.
func TestNetnsSleep(t *testing.T) {
	_, all := three(t)
	asleep := all[1].node.Process
	if err := asleep.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	edits([]*notebook{all[0], all[2]}, "while one sleeps")
	allLinked(t, 1, all[0], all[2]) // they notice
	if err := asleep.Signal(syscall.SIGCONT); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	alike(t, all...)
	t.Logf("alike %v after it woke up", time.Since(began).Round(10*time.Millisecond))
	allLinked(t, 2, all...)
}

// A node starts before there is any network.
func TestNetnsLateInterface(t *testing.T) {
	mara, tobin, ira := newStaff(t)
	l := newLAN(t)
	l.plug(mara, 1)
	l.plug(tobin, 2)
	ira.moveIn(t)
	for _, n := range []*notebook{mara, tobin, ira} {
		n.runIt()
	}
	allLinked(t, 1, mara, tobin)
	edits([]*notebook{mara, ira}, "before the network")
	l.plug(ira, 3)
	t.Logf("linked %v after the interface came", allLinked(t, 2, mara, tobin, ira))
	alike(t, mara, tobin, ira)
}

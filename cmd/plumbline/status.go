package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) status() *cobra.Command {
	return &cobra.Command{
		Use: "status", Short: "Show where this laptop stands, and the other ones", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if node.Vacant(a.data, a.state) != nil { // which says where it stands
				none := &v1.StatusResponse{Version: version()}
				return a.print(none, func(w io.Writer) { writeStatus(w, none, a.data) })
			}
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Node.Status(ctx, &v1.StatusRequest{})
				if err != nil {
					return err
				}
				if err := a.print(answer, func(w io.Writer) { writeStatus(w, answer, a.data) }); err != nil || a.json {
					return err
				}
				return a.told(ctx, c, answer)
			})
		},
	}
}

func writeStatus(w io.Writer, s *v1.StatusResponse, data string) {
	if s.GetStaff() == "" {
		fmt.Fprintf(w, "T%s.\n", strings.TrimPrefix(node.NoStaff(data), "t"))
		return
	}
	rows := [][]string{
		{"staff", s.GetStaffName(), s.GetStaff()},
		standingRow(s),
		slices.DeleteFunc([]string{"laptop", s.GetDeviceName(), s.GetDevice()}, func(cell string) bool { return cell == "" }),
		{"holds", fmt.Sprintf("%s in %s, judged by %s", counted(int(s.GetEntries()), "entry", "entries"),
			counted(int(s.GetLogs()), "log", "logs"), counted(int(s.GetControls()), "control entry", "control entries"))},
		{"state", s.GetStateHash()},
		{"conflicts", fmt.Sprint(s.GetConflicts()) + forOthers(int(s.GetConflictsOfOthers()))},
	}
	if s.GetSetAside() > 0 {
		rows = append(rows, []string{"set aside", fmt.Sprint(s.GetSetAside())})
	}
	for _, address := range s.GetAddresses() {
		rows = append(rows, []string{"links at", address})
	}
	if alone := s.GetAlone(); alone != nil {
		rows = append(rows, aloneRows(alone)...)
	}
	table(w, "", rows)
	writeOnce(w, s)
	if s.GetTrouble() != "" {
		fmt.Fprintln(w, s.GetTrouble())
	}
	if since := s.GetUnmet(); since != "" {
		fmt.Fprintln(w, unmet(since))
	}
	if len(s.GetPeers()) > 0 {
		fmt.Fprintln(w)
		writePeers(w, s.GetPeers())
	}
}

// unmet says why a laptop may hold less than the others.
func unmet(since string) string {
	came, lacks := "it joined", "much of what the staff holds"
	if since == string(node.Restored) {
		came, lacks = "the backup was restored", "what is newer than that"
	}
	return fmt.Sprintf("This laptop has met no other one since %s, so it may lack %s: "+
		"let plumbline run here and on another laptop of the staff in one network, or turn to one with plumbline connect ADDRESS.", came, lacks)
}

// told says that a person has read what is told once.
func (a *app) told(ctx context.Context, c *rpc.Client, s *v1.StatusResponse) error {
	if len(s.GetReturned())+len(s.GetClones())+len(s.GetDamages()) == 0 {
		return nil
	}
	_, err := c.Node.Acknowledge(ctx, &v1.AcknowledgeRequest{})
	return err
}

// writeOnce says what came back, which laptops were cloned, and what was damaged.
func writeOnce(w io.Writer, s *v1.StatusResponse) {
	for _, d := range s.GetDamages() {
		fmt.Fprintln(w, damaged(d))
	}
	for _, r := range s.GetReturned() {
		fmt.Fprintf(w, "%s of this laptop's own came back from %s: it had lost them, as after a restored backup. It writes on in a new log.\n",
			counted(int(r.GetEntries()), "entry", "entries"), whose(r.GetDeviceName(), r.GetPersonName(), r.GetDevice()))
	}
	for _, c := range s.GetClones() {
		which := "this laptop"
		if !c.GetOwn() {
			which = whose(c.GetDeviceName(), c.GetPersonName(), c.GetDevice())
		}
		var parts []string
		for _, n := range c.GetEntries() {
			parts = append(parts, counted(int(n), "entry", "entries"))
		}
		fmt.Fprintf(w, "The disk of %s was copied, and both copies wrote on: %s since. All of it is kept and counts. "+
			"Give one of the two keys of its own: a director runs plumbline invite, and there it is plumbline --state NEWFOLDER join ADDRESS WORD.\n",
			which, strings.Join(parts, " and "))
	}
}

func damaged(d *v1.Damage) string {
	const what = "The file of the last changes was found damaged when plumbline started after a crash"
	kept := fmt.Sprintf("The damaged file is kept at %s. A disk or a memory that does this may do it again: have the laptop looked at, and make a backup.", d.GetKept())
	if d.GetWhole() {
		return fmt.Sprintf("%s, and could be mended: nothing is missing. %s", what, kept)
	}
	missing := "what was saved on this laptop"
	if d.GetAfter() != nil {
		missing += " after " + when(d.GetAfter())
	}
	return fmt.Sprintf("%s: %s may be missing. It comes back from the other laptops by itself, if it had reached them; look for the rest and enter it again. %s", what, missing, kept)
}

// aloneRows say what was written alone, and where its ledger is.
func aloneRows(alone *v1.WrittenAlone) [][]string {
	rows := [][]string{{"taken along", amountsText(alone.GetTaken())}}
	if len(alone.GetLeft()) > 0 {
		rows = append(rows, []string{"left behind", amountsText(alone.GetLeft())})
	}
	return append(rows, []string{"ledger before", alone.GetKept()})
}

func whose(laptop, person, device string) string {
	if laptop == "" {
		return "laptop " + device
	}
	return node.LaptopOf(person, laptop)
}

func standingRow(s *v1.StatusResponse) []string {
	if s.GetPerson() == "" {
		return []string{"person", "none: this copy can only be read until it joins"}
	}
	return []string{"person", s.GetPersonName() + " (" + s.GetRole() + ")", s.GetPerson()}
}

func writePeers(w io.Writer, peers []*v1.PeerStatus) {
	rows := [][]string{{"laptop", "person", "link", "behind", "ahead", "address"}}
	for _, p := range peers {
		// How far a laptop is that isn't in reach, nobody knows.
		linked, behind, ahead := "away", "-", "-"
		switch {
		case p.GetRevoked():
			linked = "revoked"
		case p.GetLinked():
			linked, behind, ahead = "linked", fmt.Sprint(p.GetBehind()), fmt.Sprint(p.GetAhead())
		}
		rows = append(rows, []string{p.GetDeviceName(), p.GetPersonName(), linked, behind, ahead, p.GetAddress()})
	}
	table(w, "", rows)
}

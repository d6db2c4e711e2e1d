package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

func (a *app) status() *cobra.Command {
	return &cobra.Command{
		Use: "status", Short: "Show where this laptop stands, and the other ones", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.call(cmd.Context(), func(ctx context.Context, c *rpc.Client) error {
				answer, err := c.Node.Status(ctx, &v1.StatusRequest{})
				if err != nil {
					return err
				}
				return a.print(answer, func(w io.Writer) { writeStatus(w, answer) })
			})
		},
	}
}

// noStaff is where a new laptop stands.
const noStaff = "This laptop has no staff yet: found one with \"plumbline init\", or join one with \"plumbline join\""

func writeStatus(w io.Writer, s *v1.StatusResponse) {
	if s.GetStaff() == "" {
		fmt.Fprintln(w, noStaff+".")
		return
	}
	rows := [][]string{
		{"staff", s.GetStaffName(), s.GetStaff()},
		standingRow(s),
		slices.DeleteFunc([]string{"laptop", s.GetDeviceName(), s.GetDevice()}, func(cell string) bool { return cell == "" }),
		{"holds", fmt.Sprintf("%s in %s, judged by %s", counted(int(s.GetEntries()), "entry", "entries"),
			counted(int(s.GetLogs()), "log", "logs"), counted(int(s.GetControls()), "control entry", "control entries"))},
		{"state", s.GetStateHash()},
		{"conflicts", fmt.Sprint(s.GetConflicts())},
	}
	if s.GetSetAside() > 0 {
		rows = append(rows, []string{"set aside", fmt.Sprint(s.GetSetAside())})
	}
	for _, log := range s.GetForked() {
		rows = append(rows, []string{"cloned", "log " + log + " has branches: a disk was copied while in use"})
	}
	for _, address := range s.GetAddresses() {
		rows = append(rows, []string{"links at", address})
	}
	table(w, "", rows)
	if s.GetTrouble() != "" {
		fmt.Fprintln(w, s.GetTrouble())
	}
	if len(s.GetPeers()) > 0 {
		fmt.Fprintln(w)
		writePeers(w, s.GetPeers())
	}
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
		linked := "away"
		switch {
		case p.GetRevoked():
			linked = "revoked"
		case p.GetLinked():
			linked = "linked"
		}
		rows = append(rows, []string{
			p.GetDeviceName(), p.GetPersonName(), linked, fmt.Sprint(p.GetBehind()), fmt.Sprint(p.GetAhead()), p.GetAddress(),
		})
	}
	table(w, "", rows)
}

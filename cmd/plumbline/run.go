package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"regexp"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"plumbline/node"
	"plumbline/node/rpc"
	"plumbline/sync/entry"
)

// runFlags are what run can be told.
type runFlags struct {
	listen     string
	port       int
	noBeacon   bool
	beaconPort int
	apiPort    int
	open       bool
	now        func() time.Time // the node's clock, this laptop's own if nil
}

func (a *app) run() *cobra.Command {
	var f runFlags
	cmd := &cobra.Command{
		Use: "run", Short: "Run the node: link to the staff's laptops and serve the API",
		Long: `Run the node until Ctrl-C. It links to the staff's other laptops whenever they are in
reach, and serves the page and the API on the loopback address. The page's address
works once; "plumbline open" makes another one. The API's address and token are in
api.json in the state folder.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			links, err := f.links()
			if err != nil {
				return err
			}
			return a.runNode(cmd.Context(), links, f)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.listen, "listen", "", "host or host:port to listen on for links, port 0 for any free one (default all interfaces)")
	flags.IntVar(&f.port, "port", 0, "port for links (default the last one, else the usual one, else a free one)")
	flags.BoolVar(&f.noBeacon, "no-beacon", false, "don't look for laptops on the network: use remembered addresses only")
	flags.IntVar(&f.beaconPort, "beacon-port", 0, "UDP port for looking on the network")
	flags.IntVar(&f.apiPort, "api-port", 0, "port for the API (default the last one, else the usual one, else a free one)")
	flags.BoolVar(&f.open, "open", false, "open the page in the browser")
	return cmd
}

func (f runFlags) links() (*node.Links, error) {
	for flag, port := range map[string]int{"port": f.port, "beacon-port": f.beaconPort, "api-port": f.apiPort} {
		if port < 0 || port > 65535 {
			return nil, usagef("--%s %d is no port: they go from 1 to 65535", flag, port)
		}
	}
	links := &node.Links{Host: f.listen, Port: f.port, Beacon: !f.noBeacon, BeaconPort: f.beaconPort}
	host, port, err := net.SplitHostPort(f.listen)
	if err != nil {
		return links, f.checkHost(f.listen) // a host alone
	}
	if err := f.checkHost(host); err != nil {
		return nil, err
	}
	number, err := strconv.ParseUint(port, 10, 16)
	if err != nil {
		return nil, usagef("--listen %s: %q is no port", f.listen, port)
	}
	if f.port != 0 && f.port != int(number) {
		return nil, usagef("--listen %s and --port %d name two ports", f.listen, f.port)
	}
	links.Host, links.Port = host, int(number)
	if number == 0 && f.port == 0 {
		links.Port = -1 // any free one, as elsewhere
	}
	return links, nil
}

// hostName is what a name of a computer can be; what ends in a number is none
// (RFC 1123, 2.1).
var hostName = regexp.MustCompile(`^([A-Za-z0-9_-]+\.)*[A-Za-z0-9_-]*[A-Za-z_-][A-Za-z0-9_-]*\.?$`)

// checkHost refuses what is neither an address nor a name. It isn't only found out as
// links begin: a laptop without a staff has none.
func (f runFlags) checkHost(host string) error {
	if _, err := netip.ParseAddr(host); err == nil || host == "" || hostName.MatchString(host) {
		return nil
	}
	return usagef("--listen %s: %q is no address of a computer", f.listen, host)
}

func (a *app) runNode(ctx context.Context, links *node.Links, f runFlags) error {
	level := slog.LevelWarn
	if a.verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(a.err, &slog.HandlerOptions{Level: level}))
	for moved := true; moved; f.open = false {
		var err error
		if moved, err = a.runUntilMoved(ctx, node.Config{Data: a.data, State: a.state, Version: version(), Links: links, Log: log, Now: f.now}, f); err != nil {
			return err
		}
	}
	return nil
}

// runUntilMoved runs the node until it is to stop, or has moved into another staff
// with its records and has to be opened anew: then it returns true.
func (a *app) runUntilMoved(ctx context.Context, cfg node.Config, f runFlags) (moved bool, err error) {
	n, err := a.openToRun(ctx, cfg)
	if err != nil {
		return false, err
	}
	server, err := rpc.Serve(n, rpc.Options{Data: a.data, State: a.state, Port: f.apiPort, Log: cfg.Log})
	if err != nil {
		return false, errors.Join(err, n.Close())
	}
	err = a.announce(ctx, n, server)
	if err == nil && f.open {
		err = a.openServed(ctx, server)
	}
	if err == nil {
		select {
		case <-ctx.Done(): // asked to stop
		case <-server.Done():
		case <-n.Moved():
			moved = true
		}
	}
	return moved, errors.Join(err, server.Close(), n.Close())
}

// openServed opens the page. A machine without a browser runs the node all the
// same.
func (a *app) openServed(ctx context.Context, server *rpc.Server) error {
	address, err := server.Launch()
	if err != nil {
		return err
	}
	if err := a.browse(ctx, address); err != nil {
		_, err = fmt.Fprintf(a.err, "plumbline: %v\n", err)
		return err
	}
	return nil
}

// openToRun waits for a command that has the folder open for a moment, but not
// for another node.
func (a *app) openToRun(ctx context.Context, cfg node.Config) (*node.Node, error) {
	deadline := time.Now().Add(folderPatience)
	for {
		n, err := node.Open(ctx, cfg)
		if !errors.Is(err, node.ErrInUse) || time.Now().After(deadline) {
			return n, err
		}
		if s := a.running(ctx); s != nil {
			return nil, errors.Join(err, s.close())
		}
		if err := pause(ctx, retryAfter); err != nil {
			return nil, err
		}
	}
}

// announcement is what run prints with --json, in one line.
type announcement struct {
	API       string   `json:"api"`
	Page      string   `json:"page"`
	Data      string   `json:"data"`
	State     string   `json:"state"`
	Process   int      `json:"process"`
	Founded   bool     `json:"founded"`
	Addresses []string `json:"addresses"`
}

func (a *app) announce(ctx context.Context, n *node.Node, server *rpc.Server) error {
	status, err := n.Status(ctx)
	if err != nil {
		return err
	}
	page, err := server.Launch()
	if err != nil {
		return err
	}
	if a.json {
		return a.printPlain(announcement{
			API: "http://" + server.Address.Address, Page: page, Data: a.data, State: a.state, Process: os.Getpid(),
			Founded: status.Founded, Addresses: append([]string{}, status.Addresses...),
		})
	}
	running := "Running."
	switch {
	case status.Author.Person == (entry.PersonID{}) && status.Staff != (entry.StaffID{}):
		fmt.Fprintf(a.out, "A copy of %s, which can only be read until this laptop joins.\n", status.StaffName)
	case status.StaffName != "":
		fmt.Fprintf(a.out, "%s on %s, of %s\n", status.Author.Name, status.DeviceName, status.StaffName)
	case status.Founded:
		fmt.Fprintln(a.out, "This laptop has joined a staff and holds nothing of it yet.")
	default:
		running = "Running without a staff: found one with \"plumbline init\" or join one with \"plumbline join\", meanwhile in another window."
	}
	rows := [][]string{{"page", page}, {"API", "http://" + server.Address.Address}}
	for _, address := range status.Addresses {
		rows = append(rows, []string{"links", address})
	}
	rows = append(rows, []string{"data", a.data}, []string{"state", a.state})
	table(a.out, "  ", rows)
	_, err = fmt.Fprintf(a.out, "%s Stop with Ctrl-C, or kill %d.\n", running, os.Getpid())
	return err
}

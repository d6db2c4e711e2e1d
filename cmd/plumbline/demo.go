package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"

	"plumbline/node/demo"
)

// The demonstration drives real nodes through their API, as any client does. The
// stages stand in demo_office.go, demo_road.go, demo_meet.go, demo_doubt.go and
// demo_question.go; demo_laptop.go holds a node's process, demo_node.go is what
// runs in it, demo_stop.go waits for the reader, and demo_report.go is what is said.

type demoFlags struct {
	once  bool
	stops bool
	keep  string
	seed  uint64
}

func (a *app) demo() *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use: "demo", Short: "Watch three laptops of an invented staff work apart, meet and agree",
		Long: `Watch three laptops of an invented staff work apart, meet and agree. Each laptop is
a process of its own on this machine, with its own folders, linked as laptops on
one network are. They write without a network first: the same facts differently,
the same player twice. Then they meet.

At a terminal it stops twice, for you to open the director's page: before the
laptops meet, and before anything is settled, which you can do there. It stays for you to look around until Ctrl-C, and then leaves nothing behind.`,
		Example: `  plumbline demo
  plumbline demo --once --json
  plumbline demo --keep trial`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.stops && a.json {
				return usagef("--stops waits for a reader, and --json is for programs: give one of them")
			}
			f.stops = f.stops || !f.once && !a.json && isTerminal(a.in) && isTerminal(a.out)
			return a.demonstrate(cmd.Context(), f)
		},
	}
	flags := cmd.Flags()
	flags.BoolVar(&f.once, "once", false, "end at the end, without waiting for Ctrl-C")
	flags.BoolVar(&f.stops, "stops", false, "wait for Enter where there is something to see on a page, as at a terminal")
	flags.StringVar(&f.keep, "keep", "", "new or empty folder to lay the laptops' folders in and keep them")
	flags.Uint64Var(&f.seed, "seed", 1, "number from which the invented world is made")
	cmd.AddCommand(a.demoNode())
	return cmd
}

// demonstrate plays all of it. However it ends, the processes are ended first and
// the folders removed then.
func (a *app) demonstrate(ctx context.Context, f demoFlags) error {
	// A terminal that is closed is a way to stop as well.
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGHUP)
	defer stop()
	folder, err := f.folder()
	if err != nil {
		return err
	}
	t := &trial{app: a, world: demo.New(f.seed, demo.Small), folder: folder, stops: f.stops}
	t.report.Seed, t.report.Staff = f.seed, t.world.Staff
	err = t.play(ctx, f)
	left := "nothing is left behind"
	ended := t.end()
	if f.keep != "" {
		left = "the folders are in " + folder
	} else if removed := os.RemoveAll(folder); removed != nil {
		ended = errors.Join(ended, fmt.Errorf("the demonstration's folder stays behind: %w", removed))
	}
	if ctx.Err() != nil && !t.finished {
		err = context.Canceled // whatever failed first because of it
	}
	if ctx.Err() != nil && ended == nil {
		t.say("")
		t.say("Stopped; %s.", left)
	}
	return errors.Join(err, ended)
}

// folder makes the place for the three laptops' folders.
func (f demoFlags) folder() (string, error) {
	if f.keep == "" {
		folder, err := os.MkdirTemp("", "plumbline-demo-")
		if err != nil {
			return "", fmt.Errorf("a folder for the demonstration: %w", err)
		}
		return whole(folder)
	}
	if err := os.MkdirAll(f.keep, 0o700); err != nil {
		return "", fmt.Errorf("the folder to keep: %w", err)
	}
	entries, err := os.ReadDir(f.keep)
	if err != nil {
		return "", fmt.Errorf("the folder to keep: %w", err)
	}
	if len(entries) > 0 {
		return "", usagef("--keep %s: the folder isn't empty; name a new one", f.keep)
	}
	return whole(f.keep)
}

// trial is one demonstration under way.
type trial struct {
	*app
	world    *demo.World
	folder   string
	laptops  []*demoLaptop // as in world.People
	report   trialReport
	audience *audience
	stops    bool // it waits for its reader
	finished bool // everything was shown
}

func (t *trial) play(ctx context.Context, f demoFlags) error {
	if err := t.lay(); err != nil {
		return err
	}
	t.introduce()
	for _, stage := range []func(context.Context) error{t.office, t.road, t.meet, t.doubt, t.question} {
		if err := stage(ctx); err != nil {
			return err
		}
	}
	t.finished = true
	if err := t.conclude(ctx, f); err != nil || f.once {
		return err
	}
	<-ctx.Done()
	return nil
}

// lay sets the laptops out.
func (t *trial) lay() error {
	program, err := os.Executable()
	if err != nil {
		return fmt.Errorf("finding the program, to start it three times: %w", err)
	}
	ports, err := freePorts(2 * len(t.world.People))
	if err != nil {
		return err
	}
	for i, person := range t.world.People {
		folder := filepath.Join(t.folder, person.Laptop)
		t.laptops = append(t.laptops, &demoLaptop{
			index: demo.PersonIndex(i), person: person, program: program,
			data: filepath.Join(folder, "data"), state: filepath.Join(folder, "state"),
			linkPort: ports[2*i], apiPort: ports[2*i+1],
		})
	}
	return nil
}

// end stops what runs. It doesn't ask the context, which may be over.
func (t *trial) end() error {
	t.audience.close()
	return t.each(func(l *demoLaptop) error { return l.stop() })
}

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os/exec"
	"strings"
	"sync"
	"time"

	"plumbline/node/demo"
	"plumbline/node/rpc"
)

// demoLaptop is one of the demonstration's laptops: two folders, and a process while
// it is switched on.
type demoLaptop struct {
	index             demo.PersonIndex
	person            demo.Person
	program           string
	data, state       string
	linkPort, apiPort int

	client  *rpc.Client
	running *exec.Cmd
	input   io.Closer
	ended   chan struct{} // closed once the process is gone
	failure error         // how it ended; read after ended
	words   lastWords
}

const (
	startPatience = 20 * time.Second
	stopPatience  = 10 * time.Second
)

// switchOn starts the laptop with links to the others, unless it is on.
func (l *demoLaptop) switchOn(ctx context.Context) error {
	if l.running != nil {
		return nil
	}
	return l.start(ctx, false)
}

// start switches the laptop on, with links to the others or away from them.
func (l *demoLaptop) start(ctx context.Context, away bool) error {
	args := []string{"demo", "node", "--json", "--data", l.data, "--state", l.state, "--api-port", fmt.Sprint(l.apiPort)}
	if away {
		args = append(args, "--away")
	} else {
		args = append(args, "--listen", fmt.Sprintf("127.0.0.1:%d", l.linkPort))
	}
	cmd := exec.Command(l.program, args...)
	cmd.Stderr = &l.words
	input, err1 := cmd.StdinPipe()
	output, err2 := cmd.StdoutPipe()
	if err := errors.Join(err1, err2, cmd.Start()); err != nil {
		return fmt.Errorf("starting %s: %w", l.person.Laptop, err)
	}
	l.running, l.input, l.ended = cmd, input, make(chan struct{})
	announced := make(chan struct{}, 1)
	go func() {
		reader := bufio.NewReader(output)
		if _, err := reader.ReadString('\n'); err == nil {
			announced <- struct{}{}
		}
		_, _ = io.Copy(io.Discard, reader) // until it ends
		l.failure = cmd.Wait()
		close(l.ended)
	}()
	select {
	case <-announced:
		return l.dial()
	case <-l.ended:
		return l.why(errors.New("it ended at once"))
	case <-time.After(startPatience):
		return l.why(fmt.Errorf("it isn't ready after %s", startPatience))
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (l *demoLaptop) dial() error {
	address, err := rpc.ReadAddress(l.state)
	if err != nil {
		return err
	}
	l.client = rpc.Dial(address)
	return nil
}

// stop switches the laptop off: it closes its folder and ends.
func (l *demoLaptop) stop() error {
	if l.running == nil {
		return nil
	}
	cmd := l.running
	l.running = nil
	if l.client != nil {
		l.client.Close()
	}
	err := l.input.Close()
	select {
	case <-l.ended:
	case <-time.After(stopPatience):
		err = errors.Join(err, fmt.Errorf("%s didn't end within %s and was killed", l.person.Laptop, stopPatience), cmd.Process.Kill())
		<-l.ended
	}
	if l.failure != nil {
		err = l.why(errors.Join(err, l.failure))
	}
	return err
}

// why adds what the node itself said last.
func (l *demoLaptop) why(err error) error {
	if err == nil {
		return nil
	}
	if said := l.words.String(); said != "" {
		return fmt.Errorf("%s: %w; it said: %s", l.person.Laptop, rpc.Err(err), said)
	}
	return fmt.Errorf("%s: %w", l.person.Laptop, rpc.Err(err))
}

// each does something on all laptops at once.
func (t *trial) each(do func(*demoLaptop) error) error {
	errs := make([]error, len(t.laptops))
	var all sync.WaitGroup
	for i, l := range t.laptops {
		all.Go(func() { errs[i] = do(l) })
	}
	all.Wait()
	return errors.Join(errs...)
}

// restart switches all laptops off, then on again.
func (t *trial) restart(ctx context.Context, away bool) error {
	if err := t.each(func(l *demoLaptop) error { return l.stop() }); err != nil {
		return err
	}
	return t.each(func(l *demoLaptop) error { return l.start(ctx, away) })
}

// freePorts finds ports that nobody has now, so that the demonstration takes none
// that a real node is used to.
func freePorts(count int) ([]int, error) {
	var ports []int
	for range count {
		listener, err := net.Listen("tcp4", "127.0.0.1:0")
		if err != nil {
			return nil, fmt.Errorf("no port can be had on the loopback address: %w", err)
		}
		defer listener.Close() // all are held until there are enough, so that none comes twice
		ports = append(ports, listener.Addr().(*net.TCPAddr).Port)
	}
	return ports, nil
}

// lastWords keeps the end of what a process says.
type lastWords struct {
	mu   sync.Mutex
	text []byte
}

func (w *lastWords) Write(p []byte) (int, error) {
	const most = 4 << 10
	w.mu.Lock()
	defer w.mu.Unlock()
	w.text = append(w.text, p...)
	w.text = w.text[max(0, len(w.text)-most):]
	return len(p), nil
}

func (w *lastWords) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return strings.TrimSpace(string(w.text))
}

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"

	"plumbline/node"
	"plumbline/node/rpc"
	v1 "plumbline/proto/plumbline/v1"
)

// step is a step of a pairing as both sides have it.
type step interface {
	GetStep() string
	GetPairing() string
	GetCode() string
}

// steps is the stream of them.
type steps[S step] interface {
	Receive() bool
	Msg() S
	Err() error
}

var errCutShort = errors.New("the pairing was cut short: start again on both laptops")

// pairing is one side of a pairing under way.
type pairing[S step] struct {
	app    *app
	client *rpc.Client
	stream steps[S]
	show   func(S) error
	root   func(context.Context, S) error // types the root, if it is asked for
	code   S                              // the step that asks for a code
	asking bool                           // it waits for one
	done   bool
}

// follow shows the steps and answers them until the pairing ends. cancel ends
// the stream. While a code is being typed the next step may come: that the
// pairing is over, or another try from the other side.
func (p *pairing[S]) follow(ctx context.Context, cancel context.CancelFunc) error {
	steps := make(chan S)
	go func() {
		defer close(steps)
		for p.stream.Receive() {
			select {
			case steps <- p.stream.Msg():
			case <-ctx.Done():
				return
			}
		}
	}()
	err := cmp.Or(p.listen(ctx, steps), ctx.Err())
	cancel()
	for range steps {
		// Until the stream has ended: it says how.
	}
	if err != nil || p.done {
		return err
	}
	if err := p.stream.Err(); err != nil {
		return err
	}
	return errCutShort
}

// listen takes what comes first: a step, or a line while one is asked for.
func (p *pairing[S]) listen(ctx context.Context, steps <-chan S) error {
	for {
		var typed <-chan string
		if p.asking {
			typed = p.app.lines()
		}
		select {
		case s, ok := <-steps:
			if !ok {
				return nil
			}
			if err := p.take(ctx, s); err != nil {
				return err
			}
		case line, ok := <-typed:
			if !ok {
				return fmt.Errorf("standard input ended where it should give the code on the other screen")
			}
			p.asking = false
			if err := p.answer(ctx, line); err != nil {
				return err
			}
		}
	}
}

func (p *pairing[S]) take(ctx context.Context, s S) error {
	if err := p.show(s); err != nil {
		return err
	}
	p.done = p.done || s.GetStep() == "done"
	if s.GetStep() == "root" && p.root != nil {
		return p.root(ctx, s)
	}
	if p.asking = s.GetStep() == "code"; !p.asking {
		return nil
	}
	if p.code.GetCode() == s.GetCode() {
		fmt.Fprintln(p.app.err, "That isn't the code on the other screen.")
	}
	p.code = s
	p.app.prompt("Code on the other screen")
	return nil
}

// answer leaves it to the stream to say that the pairing has ended meanwhile.
func (p *pairing[S]) answer(ctx context.Context, line string) error {
	code := strings.ReplaceAll(strings.TrimSpace(line), " ", "")
	_, err := p.client.Staff.Answer(ctx, &v1.AnswerRequest{Pairing: p.code.GetPairing(), Code: code})
	if err = rpc.Err(err); errors.Is(err, node.ErrNotFound) {
		return nil
	}
	return err
}

// line prints one thing of a pairing as "name: value", for people and scripts.
func (a *app) line(name, value string) error {
	_, err := fmt.Fprintf(a.out, "%s: %s\n", name, value)
	return err
}

// advise says to a person what comes next. Scripts read the other stream.
func (a *app) advise(format string, args ...any) error {
	_, err := fmt.Fprintln(a.err, a.here(fmt.Sprintf(format, args...)))
	return err
}

package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

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
	asked  string // the code last asked for
	done   bool
}

// follow shows the steps and answers them until the pairing ends. cancel ends
// the stream.
func (p *pairing[S]) follow(ctx context.Context, cancel context.CancelFunc) error {
	steps := make(chan S)
	going, stop := context.WithCancel(ctx)
	go func() {
		defer close(steps)
		defer stop() // nobody needs to type any more
		for p.stream.Receive() {
			select {
			case steps <- p.stream.Msg():
			case <-ctx.Done():
				return
			}
		}
	}()
	var err error
	for s := range steps {
		if err = p.take(going, s); err != nil {
			cancel()
			break
		}
	}
	for range steps {
		// Until the stream has ended: it says how.
	}
	return p.ended(err, going.Err() != nil && ctx.Err() == nil)
}

func (p *pairing[S]) take(ctx context.Context, s S) error {
	if err := p.show(s); err != nil {
		return err
	}
	p.done = p.done || s.GetStep() == "done"
	if s.GetStep() != "code" {
		return nil
	}
	if code := s.GetPairing() + s.GetCode(); p.asked == code {
		fmt.Fprintln(p.app.err, "That isn't the code on the other screen.")
	} else {
		p.asked = code
	}
	typed, err := p.app.ask(ctx, "Code on the other screen")
	if err != nil {
		return err
	}
	_, err = p.client.Staff.Answer(ctx, &v1.AnswerRequest{Pairing: s.GetPairing(), Code: strings.ReplaceAll(typed, " ", "")})
	return err
}

// ended judges how a pairing ended: by what went wrong here, unless that is only
// that the stream had ended first.
func (p *pairing[S]) ended(here error, streamFirst bool) error {
	if here != nil && !(streamFirst && errors.Is(here, context.Canceled)) {
		return here
	}
	if p.done {
		return nil
	}
	if err := p.stream.Err(); err != nil {
		return err
	}
	return errCutShort
}

// line prints one thing of a pairing as "name: value", for people and scripts.
func (a *app) line(name, value string) error {
	_, err := fmt.Fprintf(a.out, "%s: %s\n", name, value)
	return err
}

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

// follow answers the steps of a pairing until it ends. A wrong code makes the
// node ask again.
func follow[S step](ctx context.Context, a *app, c *rpc.Client, next func() (S, bool), show func(S) error) error {
	steps := make(chan S)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go func() {
		defer close(steps)
		for s, ok := next(); ok; s, ok = next() {
			select {
			case steps <- s:
			case <-ctx.Done():
				return
			}
		}
	}()
	asked := ""
	for s := range steps {
		if err := show(s); err != nil {
			return err
		}
		if s.GetStep() != "code" {
			continue
		}
		if asked == s.GetPairing()+s.GetCode() {
			fmt.Fprintln(a.err, "That isn't the code on the other screen.")
		}
		asked = s.GetPairing() + s.GetCode()
		if err := a.answer(ctx, c, s.GetPairing()); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) answer(ctx context.Context, c *rpc.Client, pairing string) error {
	typed, err := a.ask(ctx, "Code on the other screen")
	if err != nil {
		return err
	}
	_, err = c.Staff.Answer(ctx, &v1.AnswerRequest{Pairing: pairing, Code: strings.ReplaceAll(typed, " ", "")})
	return err
}

// line prints one thing of a pairing as "name: value", for people and scripts.
func (a *app) line(name, value string) error {
	_, err := fmt.Fprintf(a.out, "%s: %s\n", name, value)
	return err
}

var errCutShort = errors.New("the pairing was cut short: start again on both laptops")

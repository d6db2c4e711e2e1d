package node

import (
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"sync"
)

// pairings are the pairings under way, by a name that only their screens know.
type pairings struct {
	mu  sync.Mutex
	all map[string]keyboard
}

// keyboard brings what is typed on this side's screen.
type keyboard struct {
	codes chan string
	roots chan []byte
}

func (p *pairings) open(random io.Reader) (string, keyboard, error) {
	name := make([]byte, 16)
	if _, err := io.ReadFull(random, name); err != nil {
		return "", keyboard{}, fmt.Errorf("read randomness: %w", err)
	}
	t := keyboard{codes: make(chan string, 1), roots: make(chan []byte, 1)}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.all == nil {
		p.all = map[string]keyboard{}
	}
	p.all[hex.EncodeToString(name)] = t
	return hex.EncodeToString(name), t, nil
}

func (p *pairings) close(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.all, name)
}

// Answer types the other screen's code into a pairing.
func (n *Node) Answer(pairing, code string) error {
	t, err := n.pairings.typing(pairing)
	if err != nil {
		return err
	}
	select {
	case t.codes <- code:
		return nil
	default:
		return refuse(ErrInvalid, "a code was typed already and is being checked")
	}
}

// Root types the root into a recovery. The text is overwritten once it has been
// read.
func (n *Node) Root(pairing string, text []byte) error {
	t, err := n.pairings.typing(pairing)
	if err != nil {
		return err
	}
	own := bytes.Clone(text)
	clear(text)
	select {
	case t.roots <- own:
		return nil
	default:
		clear(own)
		return refuse(ErrInvalid, "a root was typed already and is being checked")
	}
}

func (p *pairings) typing(pairing string) (keyboard, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	t, ok := p.all[pairing]
	if !ok {
		return t, refuse(ErrNotFound, "that pairing is over: start again with plumbline invite")
	}
	return t, nil
}

// prompt shows codes on, and takes them from, a screen that follows the steps.
type prompt struct {
	pairing string
	answers <-chan string
	step    func(PairingStep) error
	code    string
	asked   bool
}

func (p *prompt) Show(code string) error {
	p.code, p.asked = code, false
	return nil
}

// Ask tells the screen to ask: with the code to show, again after a wrong one.
func (p *prompt) Ask(ctx context.Context) (string, error) {
	select {
	case <-p.answers: // typed for an attempt that is over
	default:
	}
	if err := p.step(PairingStep{Step: "code", Pairing: p.pairing, Code: p.code}); err != nil {
		return "", err
	}
	select {
	case code := <-p.answers:
		return code, nil
	case <-ctx.Done():
		return "", context.Cause(ctx)
	}
}

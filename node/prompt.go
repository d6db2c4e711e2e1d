package node

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"sync"
)

// pairings are the pairings under way, by a name that only their screens know.
type pairings struct {
	mu  sync.Mutex
	all map[string]chan string
}

func (p *pairings) open(random io.Reader) (string, chan string, error) {
	name := make([]byte, 16)
	if _, err := io.ReadFull(random, name); err != nil {
		return "", nil, fmt.Errorf("read randomness: %w", err)
	}
	answers := make(chan string, 1)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.all == nil {
		p.all = map[string]chan string{}
	}
	p.all[hex.EncodeToString(name)] = answers
	return hex.EncodeToString(name), answers, nil
}

func (p *pairings) close(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.all, name)
}

// Answer types the other screen's code into a pairing.
func (n *Node) Answer(pairing, code string) error {
	n.pairings.mu.Lock()
	defer n.pairings.mu.Unlock()
	answers, ok := n.pairings.all[pairing]
	if !ok {
		return refuse(ErrNotFound, "that pairing is over: start again with plumbline invite")
	}
	select {
	case answers <- code:
		return nil
	default:
		return refuse(ErrInvalid, "a code was typed already and is being checked")
	}
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

package mesh

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"io"
	"testing"
)

// petitioner runs a joiner that answers an offer.
func petitioner(t *testing.T, i *invitation, change func(*JoinConfig)) *joining {
	t.Helper()
	j := &joining{screen: newScreen(), device: newKey(t), result: make(chan error, 1)}
	cfg := JoinConfig{
		Address: i.address(), Word: i.at.Word, Device: j.device, Prompt: j.screen, Random: rand.Reader,
		Check: func(root ed25519.PublicKey, payload []byte) error { j.root, j.payload = root, payload; return nil },
	}
	change(&cfg)
	go func() { j.result <- Join(context.Background(), cfg) }()
	i.typed <- next(t, j.shown)
	j.typed <- next(t, i.shown)
	return j
}

func TestAPetitionAnswersTheOffer(t *testing.T) {
	heard := make(chan []byte, 1)
	i := invite(t, func(c *InviteConfig) {
		c.Offer = func() ([]byte, error) { return []byte("what is there"), nil }
		c.Welcome = func(_ ed25519.PublicKey, petition []byte) ([]byte, error) {
			heard <- petition
			return []byte("welcome"), nil
		}
	})
	j := petitioner(t, i, func(c *JoinConfig) {
		c.Petition = func(_ context.Context, root ed25519.PublicKey, offer []byte) ([]byte, error) {
			return append(bytes.Clone(offer), " to me"...), nil
		}
	})
	if got := next(t, heard); string(got) != "what is there to me" {
		t.Errorf("the inviter heard %q", got)
	}
	if err := errors.Join(next(t, i.result), next(t, j.result)); err != nil {
		t.Error(err)
	}
	if string(j.payload) != "welcome" {
		t.Errorf("the joiner kept %q", j.payload)
	}
}

// A joiner that gives up at the offer is given nothing.
func TestNoPetitionNoWelcome(t *testing.T) {
	errNot := errors.New("not this one")
	for name, answer := range map[string]struct {
		petition []byte
		err      error
	}{"gives up": {nil, errNot}, "says too much": {make([]byte, MaxPetition+1), nil}} {
		i := invite(t, nil)
		j := petitioner(t, i, func(c *JoinConfig) {
			c.Petition = func(context.Context, ed25519.PublicKey, []byte) ([]byte, error) { return answer.petition, answer.err }
		})
		if err := next(t, i.result); err == nil || len(i.welcome) != 0 {
			t.Errorf("%s: the inviter ended with %v, and has welcomed %d", name, err, len(i.welcome))
		}
		if err := next(t, j.result); err == nil || answer.err != nil && !errors.Is(err, errNot) {
			t.Errorf("%s: the joiner ended with %v", name, err)
		}
	}
}

// Messages of any size up to the largest cross in order, both ways at once,
// until each side has finished.
func TestAPairingCarries(t *testing.T) {
	var sent [][]byte
	for _, size := range []int{0, 1, 40 << 10, MaxMessage, 3} {
		message := make([]byte, size)
		rand.Read(message)
		sent = append(sent, message)
	}
	carry := func(got chan [][]byte) func(context.Context, *Carrier) error {
		return func(_ context.Context, c *Carrier) error {
			failed := make(chan error, 1)
			go func() {
				for _, m := range sent {
					if err := c.Send(m); err != nil {
						failed <- err
						return
					}
				}
				c.Finish()
				failed <- nil
			}()
			var all [][]byte
			for {
				m, err := c.Receive()
				if errors.Is(err, io.EOF) {
					got <- all
					return <-failed
				}
				if err != nil {
					return err
				}
				all = append(all, m)
			}
		}
	}
	atI, atJ := make(chan [][]byte, 1), make(chan [][]byte, 1)
	i := invite(t, func(c *InviteConfig) { c.Carry = carry(atI) })
	j := petitioner(t, i, func(c *JoinConfig) { c.Carry = carry(atJ) })
	if err := errors.Join(next(t, i.result), next(t, j.result)); err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string][][]byte{"inviter": next(t, atI), "joiner": next(t, atJ)} {
		if len(got) != len(sent) {
			t.Fatalf("the %s got %d messages", name, len(got))
		}
		for n, m := range got {
			if !bytes.Equal(m, sent[n]) {
				t.Errorf("the %s's message %d is another one", name, n)
			}
		}
	}
}

package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	v1 "plumbline/proto/plumbline/v1"
)

// office is where the staff is founded and the scouts join, face to face.
func (t *trial) office(ctx context.Context) error {
	t.heading("In the office")
	if err := t.each(func(l *demoLaptop) error { return l.start(ctx, false) }); err != nil {
		return err
	}
	if err := t.foundStaff(ctx); err != nil {
		return err
	}
	for _, l := range t.laptops[1:] {
		if err := t.pair(ctx, t.laptops[0], l); err != nil {
			return fmt.Errorf("%s joining: %w", l.person.Laptop, err)
		}
	}
	if err := t.listen(ctx); err != nil {
		return err
	}
	defer t.audience.close()
	agreed, err := t.agree(ctx, "")
	t.report.Common = agreed.entries
	return err
}

func (t *trial) foundStaff(ctx context.Context) error {
	director := t.laptops[0]
	founded, err := director.client.Staff.Found(ctx, &v1.FoundRequest{
		Staff: t.world.Staff, Person: director.person.Name, Device: director.person.Laptop,
	})
	if err != nil {
		return director.why(err)
	}
	t.say("%s founds %s on the laptop %s.", director.person.Name, t.world.Staff, director.person.Laptop)
	// Folders that are kept are of use only with it.
	if err := os.WriteFile(filepath.Join(t.folder, rootFile), []byte(founded.GetRoot()+"\n"), 0o600); err != nil {
		return fmt.Errorf("the staff's root: %w", err)
	}
	return nil
}

const rootFile = "root.txt"

// side is one of the two screens of a pairing.
type side struct {
	laptop *demoLaptop
	// next gives the next step, and false at the stream's end.
	next  func() (step, bool)
	err   func() error
	codes chan step
	done  chan error
}

// pair lets a scout's laptop join. The two people who type are this program.
func (t *trial) pair(ctx context.Context, host, guest *demoLaptop) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	invited, err := host.client.Staff.Invite(ctx, &v1.InviteRequest{Person: guest.person.Name, Title: guest.person.Title})
	if err != nil {
		return host.why(err)
	}
	if !invited.Receive() {
		return host.why(invited.Err())
	}
	waiting := invited.Msg()
	if len(waiting.GetAddresses()) == 0 {
		return errors.New("the invitation names no address")
	}
	joined, err := guest.client.Staff.Join(ctx, &v1.JoinRequest{
		Address: waiting.GetAddresses()[0], Word: waiting.GetWord(), Device: guest.person.Laptop,
	})
	if err != nil {
		return guest.why(err)
	}
	inviting := newSide(host, func() (step, bool) { ok := invited.Receive(); return invited.Msg(), ok }, invited.Err)
	joining := newSide(guest, func() (step, bool) { ok := joined.Receive(); return joined.Msg(), ok }, joined.Err)
	if err := t.typeCodes(ctx, inviting, joining); err != nil {
		return err
	}
	return errors.Join(<-inviting.done, <-joining.done)
}

// newSide follows a screen until it says that it is done.
func newSide(l *demoLaptop, next func() (step, bool), err func() error) *side {
	s := &side{laptop: l, next: next, err: err, codes: make(chan step, 1), done: make(chan error, 1)}
	go func() {
		asked := false
		for {
			at, ok := s.next()
			switch {
			case !ok:
				s.done <- l.why(errors.Join(s.err(), errCutShort))
				return
			case at.GetStep() == "done":
				s.done <- nil
				return
			case at.GetStep() == "code" && asked:
				s.done <- l.why(errors.New("the other screen's code wasn't taken"))
				return
			case at.GetStep() == "code":
				asked = true
				s.codes <- at
			}
		}
	}()
	return s
}

func (t *trial) typeCodes(ctx context.Context, inviting, joining *side) error {
	var shown [2]step
	for i, s := range []*side{inviting, joining} {
		select {
		case shown[i] = <-s.codes:
		case err := <-inviting.done:
			return err
		case err := <-joining.done:
			return err
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	host, guest := inviting.laptop.person, joining.laptop.person
	t.say("%s joins: %s shows %s, %s shows %s, each is typed on the other.", guest.Name,
		host.Laptop, shown[0].GetCode(), guest.Laptop, shown[1].GetCode())
	for i, s := range []*side{inviting, joining} {
		_, err := s.laptop.client.Staff.Answer(ctx, &v1.AnswerRequest{Pairing: shown[i].GetPairing(), Code: shown[1-i].GetCode()})
		if err != nil {
			return s.laptop.why(err)
		}
	}
	return nil
}

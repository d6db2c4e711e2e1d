package main

import (
	"context"
	"fmt"
	"slices"
	"time"

	v1 "plumbline/proto/plumbline/v1"
)

// doubt shows what only people can settle, and settles some of it.
func (t *trial) doubt(ctx context.Context) error {
	t.heading("What only a person can settle")
	director := t.laptops[0]
	answer, err := director.client.Ledger.Conflicts(ctx, &v1.ConflictsRequest{})
	if err != nil {
		return director.why(err)
	}
	t.say("Nothing was overwritten: %s, each with who wrote it and when.", counted(len(answer.GetConflicts()), "fact has several values", "facts have several values"))
	for _, conflict := range answer.GetConflicts() {
		t.noteConflict(conflict)
	}
	suggested, err := director.client.Ledger.Doubles(ctx, &v1.DoublesRequest{})
	if err != nil {
		return director.why(err)
	}
	t.say("")
	for _, double := range suggested.GetDoubles() {
		t.say("Perhaps one player: %s, from %s, and %s, from %s.", double.GetFirst().GetTitle(), writer(double.GetFirst()),
			double.GetSecond().GetTitle(), writer(double.GetSecond()))
		t.report.Doubles = append(t.report.Doubles, [2]string{double.GetFirst().GetTitle(), double.GetSecond().GetTitle()})
	}
	if len(answer.GetConflicts()) == 0 || len(suggested.GetDoubles()) == 0 {
		return director.why(fmt.Errorf("%d conflicts and %d doubles were found, where some were made", len(answer.GetConflicts()), len(suggested.GetDoubles())))
	}
	return t.decide(ctx, t.disputed(answer.GetConflicts()), suggested.GetDoubles()[0])
}

// decide lets the director settle a conflict and join a double, after the reader had
// the chance to do so on the director's page.
func (t *trial) decide(ctx context.Context, conflict *v1.Conflict, double *v1.Double) error {
	t.say("")
	if t.stops {
		t.say("All of it stands on the director's page, under Conflicts and Doubles, and on the scouts' pages:")
		if err := t.pages(ctx, t.laptops[1:]...); err != nil {
			return err
		}
		if err := t.stop(ctx, "Settle on the director's page what you like and see it on theirs; Enter goes on."); err != nil {
			return err
		}
	}
	isOpen, err := t.isDisputed(ctx, conflict)
	if err != nil {
		return err
	}
	if isOpen {
		err = t.settleOne(ctx, conflict)
	} else {
		err = t.decidedOnPage(ctx, fmt.Sprintf("the %s of %s", conflict.GetField().GetName(), conflict.GetTitle()))
	}
	if err != nil {
		return err
	}
	if isOpen, err = t.isDoubtful(ctx, double); err != nil {
		return err
	}
	if isOpen {
		return t.joinDouble(ctx, double)
	}
	return t.decidedOnPage(ctx, fmt.Sprintf("whether %s and %s are one player", double.GetFirst().GetTitle(), double.GetSecond().GetTitle()))
}

func (t *trial) isDisputed(ctx context.Context, conflict *v1.Conflict) (bool, error) {
	director := t.laptops[0]
	answer, err := director.client.Ledger.Conflicts(ctx, &v1.ConflictsRequest{})
	same := func(c *v1.Conflict) bool {
		return c.GetRecord() == conflict.GetRecord() && c.GetField().GetName() == conflict.GetField().GetName()
	}
	return slices.ContainsFunc(answer.GetConflicts(), same), director.why(err)
}

func (t *trial) isDoubtful(ctx context.Context, double *v1.Double) (bool, error) {
	director := t.laptops[0]
	answer, err := director.client.Ledger.Doubles(ctx, &v1.DoublesRequest{})
	same := func(d *v1.Double) bool {
		return d.GetFirst().GetId() == double.GetFirst().GetId() && d.GetSecond().GetId() == double.GetSecond().GetId()
	}
	return slices.ContainsFunc(answer.GetDoubles(), same), director.why(err)
}

// decidedOnPage says that the reader was there first.
func (t *trial) decidedOnPage(ctx context.Context, what string) error {
	if _, err := t.agree(ctx, ""); err != nil {
		return err
	}
	t.report.Settled = append(t.report.Settled, what)
	t.say("You decided %s; all three laptops agree.", what)
	return nil
}

// disputed finds the conflict that is talked about: over the jersey.
func (t *trial) disputed(conflicts []*v1.Conflict) *v1.Conflict {
	for _, conflict := range conflicts {
		for _, dispute := range t.world.Disputes()[:1] {
			if conflict.GetTitle() == dispute.Record && conflict.GetField().GetName() == dispute.Field {
				return conflict
			}
		}
	}
	return conflicts[0]
}

// writer is who gave a record its name.
func writer(record *v1.Record) string {
	for _, field := range record.GetFields() {
		if field.GetName() == "name" && len(field.GetValues()) > 0 {
			return field.GetValues()[0].GetPersonName()
		}
	}
	return "somebody"
}

func (t *trial) noteConflict(conflict *v1.Conflict) {
	field := conflict.GetField()
	noted := conflictReport{Record: conflict.GetTitle(), Field: field.GetName()}
	var rows [][]string
	for _, value := range field.GetValues() {
		noted.Values = append(noted.Values, valueReport{value.GetText(), value.GetPersonName(), when(value.GetWritten()), value.GetSource()})
		rows = append(rows, []string{"  " + cell(valueText(value)), origin(value)})
	}
	t.report.Conflicts = append(t.report.Conflicts, noted)
	t.say("")
	t.say("%s, %s", conflict.GetTitle(), field.GetLabel())
	t.tell(func() [][]string { return rows })
}

func (t *trial) settleOne(ctx context.Context, conflict *v1.Conflict) error {
	director, chosen := t.laptops[0], conflict.GetField().GetValues()[0]
	began := time.Now()
	_, err := director.client.Ledger.Settle(ctx, &v1.SettleRequest{
		Record: conflict.GetRecord(), Field: conflict.GetField().GetName(), Choose: chosen.GetId(),
		Seen: valueIDs(conflict.GetField()),
	})
	if err != nil {
		return director.why(err)
	}
	return t.everywhere(ctx, began, fmt.Sprintf("%s settles the %s of %s: %s", director.person.Name, conflict.GetField().GetName(), conflict.GetTitle(), chosen.GetText()))
}

// joinDouble joins the two records of one player. Their names differ, so that is
// a conflict until somebody says how he is spelt.
func (t *trial) joinDouble(ctx context.Context, double *v1.Double) error {
	director := t.laptops[0]
	first, second := double.GetFirst(), double.GetSecond()
	began := time.Now()
	joined, err := director.client.Ledger.Same(ctx, &v1.SameRequest{First: first.GetId(), Second: second.GetId()})
	if err != nil {
		return director.why(err)
	}
	_, err = director.client.Ledger.Settle(ctx, &v1.SettleRequest{
		Record: first.GetId(), Field: "name", Text: t.world.Twice.First, Seen: valueIDs(standingField(joined.GetRecord(), "name")),
	})
	if err != nil {
		return director.why(err)
	}
	return t.everywhere(ctx, began, fmt.Sprintf("%s says that they are one player, and that he is spelt %s", director.person.Name, t.world.Twice.First))
}

// everywhere says what was done, once it is on all laptops.
func (t *trial) everywhere(ctx context.Context, began time.Time, what string) error {
	director := t.laptops[0]
	status, err := director.client.Node.Status(ctx, &v1.StatusRequest{})
	if err != nil {
		return director.why(err)
	}
	if _, err := t.agree(ctx, status.GetStateHash()); err != nil {
		return err
	}
	t.report.Settled = append(t.report.Settled, what)
	t.say("%s;", what)
	t.say("  it stands so on all three laptops after %s.", spell(time.Since(began)))
	return nil
}

package main

import (
	"bytes"
	"context"
	"errors"
	"io"

	v1 "plumbline/proto/plumbline/v1"
)

// The director's question: linemen with long arms and good hands who won more
// than half of what was seen of them, in two looks or more.
var directorsQuestion = &v1.ListRequest{
	Kind: "prospect",
	Where: `position in ["tackle", "guard", "center"] && arm >= 325
  && grades.hand_use >= 4 && looks >= 2 && won_share > 0.5`,
	Sort:    []string{"-won_share"},
	Columns: []string{"name", "position", "arm", "grades.hand_use", "overall", "evaluations", "looks", "reps", "won_share"},
}

// question has all three laptops answer, and compares the answers.
func (t *trial) question(ctx context.Context) error {
	t.heading("The director asks, and every laptop can answer")
	answers := make([]*v1.ListResponse, len(t.laptops))
	printed := make([][]byte, len(t.laptops))
	err := t.each(func(l *demoLaptop) error {
		answer, err := l.client.Ledger.List(ctx, directorsQuestion)
		if err != nil {
			return l.why(err)
		}
		var b bytes.Buffer
		answers[l.index] = answer
		err = (&app{out: &b, json: true}).printJSON(answer, "  ") // as list --json prints it
		printed[l.index] = b.Bytes()
		if err != nil {
			return err
		}
		t.report.Laptops[l.index].Final, err = l.count(ctx)
		return err
	})
	if err != nil {
		return err
	}
	for i, l := range t.laptops {
		if !bytes.Equal(printed[i], printed[0]) {
			return l.why(errors.New("its answer differs from the director's: this is a mistake in the program"))
		}
	}
	t.report.Where, t.report.AnswersEqual, t.report.Answer = directorsQuestion.GetWhere(), true, printed[0]
	t.say("plumbline list --where '%s'", directorsQuestion.GetWhere())
	t.say("")
	t.write(func(w io.Writer) { writeListing(w, answers[0], false) })
	t.say("")
	t.say("The answer is the same on all three laptops, byte for byte (%d bytes).", len(printed[0]))
	return nil
}

package main

import (
	"context"
	"fmt"

	"plumbline/node/demo"
	v1 "plumbline/proto/plumbline/v1"
)

// road is where each works alone: no laptop has a network.
func (t *trial) road(ctx context.Context) error {
	t.heading("On the road, without a network")
	if err := t.restart(ctx, true); err != nil {
		return err
	}
	if err := t.each(func(l *demoLaptop) error { return t.work(ctx, l) }); err != nil {
		return err
	}
	t.say("Each imports tables of their own (CSV) and writes by hand. The two scouts change the same facts")
	t.say("in different ways, and both add one and the same player: %s, or %s.", t.world.Twice.First, t.world.Twice.Second)
	err := t.each(func(l *demoLaptop) error {
		held, err := l.count(ctx)
		t.report.Laptops[l.index].Before = held
		return err
	})
	if err != nil {
		return err
	}
	t.tell(func() [][]string { return t.holdings(func(l laptopReport) holding { return l.Before }) })
	return nil
}

// work imports a person's tables and types what they type.
func (t *trial) work(ctx context.Context, l *demoLaptop) error {
	for _, table := range t.world.Tables(l.index) {
		answer, err := l.client.Ledger.Import(ctx, &v1.ImportRequest{Kind: table.Kind, Data: table.Data, File: table.File, Source: demo.Source})
		if err != nil {
			return l.why(fmt.Errorf("importing %s: %w", table.File, err))
		}
		if wrong := answer.GetErrors(); len(wrong) > 0 {
			return l.why(fmt.Errorf("importing %s: %w", table.File, wrongRows(wrong)))
		}
	}
	for _, edit := range t.world.Edits(l.index) {
		if err := l.edit(ctx, edit); err != nil {
			return l.why(err)
		}
	}
	return nil
}

// edit writes as a person does: who changes a field has seen what stands there.
func (l *demoLaptop) edit(ctx context.Context, edit demo.Edit) error {
	write := &v1.Write{Record: edit.Record, Kind: edit.Kind}
	for _, set := range edit.Sets {
		write.Sets = append(write.Sets, &v1.Set{Field: set.Field, Text: set.Text})
	}
	if edit.Record != "" {
		shown, err := l.client.Ledger.Get(ctx, &v1.GetRequest{Record: edit.Record})
		if err != nil {
			return err
		}
		for _, set := range write.Sets {
			for _, field := range shown.GetRecord().GetFields() {
				for _, value := range field.GetValues() {
					if field.GetName() == set.GetField() {
						set.Seen = append(set.Seen, value.GetId())
					}
				}
			}
		}
	}
	_, err := l.client.Ledger.Write(ctx, &v1.WriteRequest{Writes: []*v1.Write{write}})
	return err
}

// count says what a laptop holds.
func (l *demoLaptop) count(ctx context.Context) (holding, error) {
	held := holding{Records: map[string]uint32{}}
	for _, kind := range countedKinds {
		answer, err := l.client.Ledger.List(ctx, &v1.ListRequest{Kind: kind, Limit: 1})
		if err != nil {
			return held, l.why(err)
		}
		held.Records[kind] = answer.GetTotal()
	}
	status, err := l.client.Node.Status(ctx, &v1.StatusRequest{})
	if err != nil {
		return held, l.why(err)
	}
	held.Entries, held.StateHash = status.GetEntries(), status.GetStateHash()
	return held, nil
}

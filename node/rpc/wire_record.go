package rpc

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
	"plumbline/sync/merge"
)

func valueTo(v node.Value) (*v1.Value, error) {
	made := &v1.Value{
		Id: text(v.ID), Text: v.Text, RefersTo: text(v.Refers),
		Person: text(v.Author.Person), PersonName: v.Author.Name, Device: text(v.Author.Device),
		Written: timeTo(v.Written), Record: text(v.Record), Source: v.Source,
		Cleared: v.Cleared, Unreadable: v.Unreadable,
	}
	if v.JSON == nil {
		return made, nil
	}
	var err error
	made.Json, err = jsonTo(v.JSON)
	return made, err
}

func timeTo(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}

func fieldTo(f node.Field) (*v1.Field, error) {
	values, err := eachOr(f.Values, valueTo)
	return &v1.Field{Name: f.Name, Label: f.Label, Values: values, Conflict: f.Conflict}, err
}

func recordTo(r node.Record) (*v1.Record, error) {
	fields, err := eachOr(r.Fields, fieldTo)
	return &v1.Record{
		Id: text(r.ID), Kind: r.Kind, Title: r.Title, Fields: fields, Members: texts(r.Members),
		Visibility: visibilityTo(r.Visibility), Person: text(r.Owner.Person), PersonName: r.Owner.Name,
	}, err
}

// wireRecord translates what a call that gives one record returned.
func wireRecord(r node.Record, err error) (*v1.Record, error) {
	if err != nil {
		return nil, toWire(err)
	}
	return recordTo(r)
}

func visibilityTo(v merge.Visibility) v1.Visibility {
	switch v {
	case merge.Visible:
		return v1.Visibility_VISIBILITY_VISIBLE
	case merge.Hidden:
		return v1.Visibility_VISIBILITY_HIDDEN
	case merge.Disputed:
		return v1.Visibility_VISIBILITY_DISPUTED
	}
	return v1.Visibility_VISIBILITY_UNSPECIFIED
}

func detailTo(d node.Detail) (*v1.GetResponse, error) {
	record, err := recordTo(d.Record)
	if err != nil {
		return nil, err
	}
	related, err := eachOr(d.Related, recordTo)
	if err != nil {
		return nil, err
	}
	summary, err := structTo(d.Summary)
	made := &v1.GetResponse{Record: record, Related: related, Summary: summary, AsOf: d.AsOf}
	if d.Arrived.Total > 0 {
		made.Arrived = unreadTo(d.Arrived)
	}
	return made, err
}

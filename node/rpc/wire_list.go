package rpc

import (
	"maps"
	"slices"

	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
)

func listQueryFrom(req *v1.ListRequest) node.ListQuery {
	return node.ListQuery{
		Kind: req.GetKind(), Where: req.GetWhere(), Search: req.GetSearch(), Sort: req.GetSort(),
		Columns: req.GetColumns(), Limit: int(req.GetLimit()), Hidden: req.GetHidden(),
	}
}

func listingTo(l node.Listing, textsOnly bool) (*v1.ListResponse, error) {
	rows, err := eachOr(l.Rows, func(r node.Row) (*v1.Row, error) {
		if textsOnly {
			r.Cells = nil
		}
		return rowTo(r)
	})
	return &v1.ListResponse{Columns: l.Columns, Rows: rows, Total: count(l.Total)}, err
}

func rowTo(r node.Row) (*v1.Row, error) {
	cells, err := eachOr(r.Cells, jsonTo)
	return &v1.Row{
		Id: text(r.ID), Title: r.Title, Cells: cells, Texts: r.Texts, Conflicts: count(r.Conflicts),
	}, err
}

func conflictsTo(list []node.Conflict) (*v1.ConflictsResponse, error) {
	conflicts, err := eachOr(list, conflictTo)
	return &v1.ConflictsResponse{Conflicts: conflicts}, err
}

func conflictTo(c node.Conflict) (*v1.Conflict, error) {
	field, err := fieldTo(c.Field)
	made := &v1.Conflict{
		About: c.About, Record: text(c.Record), Kind: c.Kind, Title: c.Title, Field: field, Advice: c.Advice,
		Other: text(c.Other), OtherTitle: c.OtherTitle,
		Person: text(c.Owner.Person), PersonName: c.Owner.Name,
	}
	if c.About != "field" {
		made.Field = nil
	}
	if c.About == "retirement" {
		made.AsOf, made.Unread = c.AsOf, unreadTo(c.Unread)
	}
	if err != nil {
		return made, err
	}
	made.Said, err = eachOr(c.Said, valueTo)
	if c.Ancestor == nil || err != nil {
		return made, err
	}
	made.Ancestor, err = valueTo(*c.Ancestor)
	return made, err
}

func sameTo(s node.Sameness) (*v1.SameResponse, error) {
	record, err := recordTo(s.Record)
	if err != nil {
		return nil, err
	}
	said, err := eachOr(s.Said, valueTo)
	return &v1.SameResponse{Record: record, Said: said}, err
}

func doublesTo(list []node.Double) (*v1.DoublesResponse, error) {
	doubles, err := eachOr(list, doubleTo)
	return &v1.DoublesResponse{Doubles: doubles}, err
}

func doubleTo(d node.Double) (*v1.Double, error) {
	first, err := recordTo(d.First)
	if err != nil {
		return nil, err
	}
	second, err := recordTo(d.Second)
	return &v1.Double{First: first, Second: second, Reason: d.Reason}, err
}

func kindTo(k node.KindInfo) *v1.KindInfo {
	return &v1.KindInfo{
		Name: k.Name, Aliases: k.Aliases, Help: k.Help, Rights: k.Rights,
		Fields: each(k.Fields, fieldInfoTo), Figures: each(k.Figures, fieldInfoTo),
	}
}

func fieldInfoTo(f node.FieldInfo) *v1.FieldInfo {
	return &v1.FieldInfo{
		Name: f.Name, Label: f.Label, Help: f.Help, Type: f.Type, Choices: f.Choices, RefersTo: f.Refers, Keyed: f.Keyed,
		Required: f.Required, Prose: f.Prose, Synonyms: synonymsTo(f.Synonyms), Keys: f.Keys, KeyedBy: f.KeyedBy,
	}
}

func synonymsTo(words map[string][]string) []*v1.Synonym {
	return each(slices.Sorted(maps.Keys(words)), func(word string) *v1.Synonym {
		return &v1.Synonym{Word: word, Choices: words[word]}
	})
}

package rpc

import (
	"plumbline/node"
	"plumbline/node/prose"
	v1 "plumbline/proto/plumbline/v1"
)

func writeFrom(w *v1.Write) node.Write {
	return node.Write{Record: w.GetRecord(), Kind: w.GetKind(), NewID: w.GetNewId(), Sets: each(w.GetSets(), setFrom)}
}

func setFrom(s *v1.Set) node.Set {
	return node.Set{
		Field: s.GetField(), Text: s.GetText(), JSON: jsonFrom(s.GetJson()), Clear: s.GetClear(), Seen: s.GetSeen(),
	}
}

func settlementFrom(req *v1.SettleRequest) node.Settlement {
	return node.Settlement{
		Record: req.GetRecord(),
		Set: node.Set{
			Field: req.GetField(), Text: req.GetText(), JSON: jsonFrom(req.GetJson()), Clear: req.GetClear(), Seen: req.GetSeen(),
		},
		Choose: req.GetChoose(),
	}
}

func partTo(p prose.Part) *v1.MergedPart {
	return &v1.MergedPart{Text: p.Text, Before: p.Before, Versions: p.Versions, Overlap: p.Overlap}
}

func importFrom(req *v1.ImportRequest) node.ImportRequest {
	return node.ImportRequest{
		Kind: req.GetKind(), Data: req.GetData(), File: req.GetFile(), Source: req.GetSource(),
		Headers: req.GetHeaders(), Defaults: req.GetDefaults(), DryRun: req.GetDryRun(), Partial: req.GetPartial(), Sheet: req.GetSheet(),
		Namesakes: namesakesFrom(req.GetNamesakes()),
	}
}

func namesakesFrom(said v1.Namesakes) node.Namesakes {
	switch said {
	case v1.Namesakes_NAMESAKES_MATCH:
		return node.MatchNamesakes
	case v1.Namesakes_NAMESAKES_NEW:
		return node.NewNamesakes
	}
	return node.AskAboutNamesakes
}

func importTo(r node.ImportReport) *v1.ImportResponse {
	return &v1.ImportResponse{
		Rows: count(r.Rows), Added: count(r.Added), Changed: count(r.Changed), Unchanged: count(r.Unchanged),
		Conflicts: count(r.Conflicts), Errors: each(r.Errors, rowErrorTo), DryRun: r.DryRun,
		Skipped: count(r.Skipped), Remarks: r.Remarks, WrongRows: each(r.WrongRows, tableRowTo),
		Records: each(r.Records, importedTo), Namesakes: each(r.Namesakes, namesakeTo), NamesakeRows: count(r.NamesakeRows),
	}
}

func namesakeTo(s node.Namesake) *v1.Namesake {
	return &v1.Namesake{Line: count(s.Line), Row: s.Row, Record: s.Record.String(), Standing: s.Standing}
}

func importedTo(r node.ImportedRecord) *v1.ImportedRecord {
	return &v1.ImportedRecord{
		Line: count(r.Line), Kind: r.Kind, Title: r.Title, Added: r.Added,
		Fields: each(r.Fields, func(f node.ImportedField) *v1.ImportedField {
			return &v1.ImportedField{Name: f.Name, Before: f.Before, After: f.After, Beside: f.Beside}
		}),
	}
}

func tableRowTo(r node.TableRow) *v1.TableRow {
	return &v1.TableRow{Line: count(r.Line), Cells: r.Cells}
}

func outlineTo(o node.TableOutline) *v1.OutlineResponse {
	return &v1.OutlineResponse{
		Sheets: o.Sheets, Sheet: o.Sheet, Rows: count(o.Rows), Fields: o.Fields,
		Columns: each(o.Columns, func(c node.TableColumn) *v1.TableColumn {
			return &v1.TableColumn{Head: c.Head, Field: c.Field, Samples: c.Samples}
		}),
	}
}

func checkedTo(c node.Checked) *v1.Checked {
	return &v1.Checked{Field: c.Field, Text: c.Text, RefersTo: text(c.Refers), Wrong: c.Wrong}
}

func rowErrorTo(e node.RowError) *v1.RowError {
	return &v1.RowError{File: e.File, Line: count(e.Line), Column: e.Column, Value: e.Value, Rule: e.Rule, Sheet: e.Sheet, Cell: e.Cell}
}

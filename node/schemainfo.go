package node

import (
	"slices"
	"strings"

	"plumbline/node/query"
	"plumbline/node/record"
	"plumbline/sync/entry"
)

// Schema describes the kinds of records, their fields, and the figures that
// expressions may use.
func Schema() []KindInfo {
	var kinds []KindInfo
	for _, k := range record.Stored().Kinds() {
		info := KindInfo{Name: k.Name, Aliases: k.Aliases, Help: k.Help, Rights: rightsName(k.Class)}
		own := query.Declare(k)
		for _, f := range k.Fields() {
			info.Fields = append(info.Fields, FieldInfo{
				Name: f.Name, Label: f.Label, Help: f.Help, Type: f.Type(), Choices: f.Values(), Refers: f.RefersTo, Keyed: f.IsMap(),
				Required: slices.Contains(required[k.Number], f.Name), Prose: f.IsText(), Synonyms: f.Synonyms(), Keys: f.Keys(), KeyedBy: f.KeyedBy,
			})
		}
		all := fieldsOf(k.Number)
		for _, name := range all.Names() {
			if _, isField := own[name]; !isField {
				info.Figures = append(info.Figures, FieldInfo{Name: name, Type: all[name].Type.String(), Help: helpOf(name), Choices: all[name].Values})
			}
		}
		kinds = append(kinds, info)
	}
	return kinds
}

func rightsName(c entry.Class) string {
	switch c {
	case entry.Owned:
		return "owned"
	case entry.Directors:
		return "director"
	}
	return "shared"
}

// helpOf explains a figure.
func helpOf(name string) string {
	if help, ok := figureHelp[name]; ok {
		return help
	}
	if what, ok := strings.CutSuffix(name, "_source"); ok {
		return "where the " + what + " comes from: listed, estimated or verified"
	}
	if what, ok := strings.CutSuffix(name, standingSuffix); ok {
		return "where the " + what + " stands among prospects of the position, 0 to 100"
	}
	if what, ok := strings.CutSuffix(name, cohortSuffix); ok {
		return "how many prospects of the position have the " + what
	}
	switch name {
	case "by":
		return "whose it is"
	case "conflicts":
		return "fields in conflict"
	}
	return "the number that outranks the others, in the trade's notation"
}

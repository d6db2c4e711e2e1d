package node

import (
	"strings"

	"plumbline/node/importer"
)

// Rows that give their records are what somebody edited in an export: a person's own
// word, which no later file of a list replaces (ledger rule 12). So their values come
// from a source that no list can be called. The list that is named beside them only
// says which imported values an edit replaces, and whose an id of a list is.

// editedIn begins the source of what was edited in an export; the list's name follows.
const editedIn = "edited export: "

// wrongSource refuses a list by whose name its values would pass for edits.
func wrongSource(source string) error {
	if !isEdit(source) {
		return nil
	}
	return refuse(ErrInvalid, "no list can be called %q, since what was edited in an export is kept under such names: give the list another name (--source)", source)
}

func isEdit(source string) bool { return strings.HasPrefix(source, editedIn) }

// isList reports whether values came from a list, as it was.
func isList(source string) bool { return source != "" && !isEdit(source) }

// listNamed is the list by whose name values were imported; empty for those by hand.
func listNamed(source string) string { return strings.TrimPrefix(source, editedIn) }

// sourceOf is the source of what a row says.
func (b *importing) sourceOf(p importer.Proposal) string {
	if p.Record != "" {
		return editedIn + b.source
	}
	return b.source
}

// replaces reports whether a row replaces what the same person imported from a source:
// the list that is named and, if it is an edit, earlier edits.
func (b *importing) replaces(p importer.Proposal, source string) bool {
	return source == b.source || p.Record != "" && isEdit(source)
}

package importer

import "strings"

// Guarded puts an apostrophe before a text that a spreadsheet would take for a formula,
// and before one that looks as if that had been done to it already, so that the text
// comes back from an export as it was.
func Guarded(text string) string {
	if isGuarded(text) || isFormula(text) {
		return "'" + text
	}
	return text
}

// unguarded undoes it. A text that nobody guarded stays as it is: a workbook needs
// the apostrophe only before another one.
func unguarded(text string) string {
	if isGuarded(text) {
		return text[1:]
	}
	return text
}

func isGuarded(text string) bool {
	return strings.HasPrefix(text, "'") && isFormula(strings.TrimLeft(text, "'"))
}

func isFormula(text string) bool {
	return text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0]))
}

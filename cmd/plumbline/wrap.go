package main

import (
	"io"
	"strings"
	"unicode/utf8"
)

// lineWidth is how wide a line of prose is written, in characters, with what it
// is indented by: what a terminal shows that nobody has widened.
const lineWidth = 80

// writeProse writes a text whole, indented and with its lines broken between words. A
// word that is longer than a line stays whole.
func writeProse(w io.Writer, indent, text string) {
	for line := range strings.Lines(text) {
		row, width := indent, utf8.RuneCountInString(indent)
		start := width
		for _, word := range strings.Fields(line) {
			if length := utf8.RuneCountInString(word); width > start && width+1+length > lineWidth {
				io.WriteString(w, row+"\n")
				row, width = indent+word, start+length
			} else if width > start {
				row, width = row+" "+word, width+1+length
			} else {
				row, width = row+word, width+length
			}
		}
		io.WriteString(w, strings.TrimRight(row, " ")+"\n")
	}
}

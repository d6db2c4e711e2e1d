package prose

import (
	"strings"
	"unicode"
)

// tokens cuts a text into words, line breaks, other white space and signs.
func tokens(text string) []string {
	var cut []string
	start, before := 0, none
	for i, r := range text {
		now := sortOf(r)
		if i > 0 && (now != before || now == lineBreak) {
			cut = append(cut, text[start:i])
			start = i
		}
		before = now
	}
	if start < len(text) {
		cut = append(cut, text[start:])
	}
	return cut
}

type sort int

const (
	none sort = iota
	word
	lineBreak
	space
	sign
)

func sortOf(r rune) sort {
	switch {
	case unicode.IsLetter(r), unicode.IsDigit(r), unicode.IsMark(r), r == '\'', r == '’':
		return word
	case r == '\n':
		return lineBreak
	case unicode.IsSpace(r):
		return space
	}
	return sign
}

// apart reports whether what lies between two changes keeps them apart: a line
// break, or enough words.
func apart(between []string, words int) bool {
	for _, token := range between {
		if strings.HasPrefix(token, "\n") {
			return true
		}
		if sortOf([]rune(token)[0]) == word {
			words--
		}
	}
	return len(between) > 0 && words <= 0
}

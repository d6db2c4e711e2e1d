package demo

import (
	"fmt"
	"strings"
	"time"
)

// How a rep's values are written in a table.

func (s Rep) clock() string { return fmt.Sprintf("%d:%02d", s.Clock/60, s.Clock%60) }

func (s Rep) yardLine() string {
	if s.Yard > 50 {
		return fmt.Sprintf("opp %d", 100-s.Yard)
	}
	return fmt.Sprintf("own %d", s.Yard)
}

func (s Rep) clip() string {
	if s.To == 0 {
		return ""
	}
	return fmt.Sprintf("%s %s-%s", s.Film, spot(s.From), spot(s.To))
}

// spot is a time in a film, with tenths where there are some.
func spot(at time.Duration) string {
	text := fmt.Sprintf("%d:%02d", at/time.Minute, at/time.Second%60)
	if tenths := at / (100 * time.Millisecond) % 10; tenths != 0 {
		text += fmt.Sprintf(".%d", tenths)
	}
	return text
}

func list(words []string) string { return strings.Join(words, ", ") }

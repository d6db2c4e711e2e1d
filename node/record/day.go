package record

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

const notADay = "not a day of the calendar; type it as YYYY-MM-DD, such as 2026-10-14"

// earliest is a year before which nobody measured or filmed whom a staff looks at.
const earliest = 1900

// checkDay holds a date to the calendar and to its one form, in a year that can be meant. Days in numbers alone
// are written with the day first in one country and the month first in another, so no
// other form is read: what it may mean is said instead.
func checkDay(typed string) error {
	if day, err := time.Parse(time.DateOnly, typed); err == nil {
		if day.Year() < earliest {
			return because("before %d, so a slip of the pen; correct the year", earliest)
		}
		return nil
	}
	switch days := readings(typed); len(days) {
	case 0:
		return because(notADay)
	case 1:
		return because("a date is written YYYY-MM-DD; if this is %s, type that", days[0])
	default:
		last := len(days) - 1
		return because("this may be %s or %s, as some write the day first and some the month; type it as YYYY-MM-DD", strings.Join(days[:last], ", "), days[last])
	}
}

var (
	inNumbers = regexp.MustCompile(`^(\d{1,2})[/.\- ](\d{1,2})[/.\- ](\d{4}|\d{2})$`)
	yearFirst = regexp.MustCompile(`^(\d{4})[/.\- ]?(\d{1,2})[/.\- ]?(\d{1,2})$`)
	inWords   = []string{"January 2 2006", "Jan 2 2006", "2 January 2006", "2 Jan 2006"}
)

// readings are the days that something typed may mean, each as YYYY-MM-DD.
func readings(typed string) []string {
	typed = strings.TrimSpace(typed)
	var days []string
	add := func(year, month, day string) {
		if len(year) == 2 {
			year = "20" + year
		}
		read, err := time.Parse("2006-1-2", fmt.Sprintf("%s-%s-%s", year, month, day))
		if text := read.Format(time.DateOnly); err == nil && !slices.Contains(days, text) {
			days = append(days, text)
		}
	}
	if m := inNumbers.FindStringSubmatch(typed); m != nil {
		add(m[3], m[2], m[1])
		add(m[3], m[1], m[2])
		if len(m[1]) == 2 && len(m[3]) == 2 {
			add(m[1], m[2], m[3])
		}
	}
	if m := yearFirst.FindStringSubmatch(typed); m != nil {
		add(m[1], m[2], m[3])
	}
	words := strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ", "-", " ").Replace(typed)), " ")
	for _, layout := range inWords {
		if read, err := time.Parse(layout, words); err == nil {
			add(read.Format("2006"), read.Format("1"), read.Format("2"))
		}
	}
	return days
}

// looksLikeADay reports whether a word is in the form of a date, whichever.
func looksLikeADay(word string) bool {
	return inNumbers.MatchString(word) || yearFirst.MatchString(word) && strings.ContainsAny(word, "/.-")
}

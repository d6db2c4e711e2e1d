package workbook

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// format is what a number format makes of a number, as far as its meaning goes.
type format struct {
	day, hour, minute bool
	// whole and decimals are how many digits are always shown.
	whole, decimals int
}

// builtIn are the formats that have a number only (ECMA-376 part 1, 18.8.30).
// 14 to 17 are days, 18 to 21 times, 22 both, 45 and 46 minutes and hours; 27 to
// 36 and 50 to 58 are days in East Asia.
var builtIn = builtInFormats()

func builtInFormats() map[string]format {
	known := map[string]format{
		"2": {whole: 1, decimals: 2}, "4": {whole: 1, decimals: 2},
		"14": {day: true}, "15": {day: true}, "16": {day: true}, "17": {day: true},
		"18": {hour: true}, "19": {hour: true}, "20": {hour: true}, "21": {hour: true}, "22": {day: true, hour: true},
		"45": {minute: true}, "46": {hour: true}, "47": {minute: true},
	}
	for id := 27; id <= 58; id++ {
		if id <= 31 || id == 36 || id >= 50 {
			known[strconv.Itoa(id)] = format{day: true}
		}
	}
	return known
}

// formatOf reads the code of a format, such as yyyy\-mm\-dd;@ or 0.00.
func formatOf(code string) format {
	if len(code) > 255 { // the most that the standard's programs take
		return format{}
	}
	letters := bare(code)
	if strings.EqualFold(letters, "General") {
		return format{}
	}
	lower := strings.ToLower(letters)
	f := format{
		day:  strings.ContainsAny(lower, "yd"),
		hour: strings.Contains(lower, "h"),
	}
	f.minute = !f.day && !f.hour && strings.Contains(lower, "m") && strings.Contains(lower, "s")
	if !f.day && !f.hour && !f.minute && strings.Trim(letters, "#,0.") == "" {
		whole, decimals, _ := strings.Cut(letters, ".")
		f.whole, f.decimals = strings.Count(whole, "0"), strings.Count(decimals, "0")
	}
	return f
}

// bare leaves the first section of a format's code without literal text, colours
// and conditions; elapsed hours in brackets stay.
func bare(code string) string {
	var out strings.Builder
	for code != "" {
		switch c := code[0]; c {
		case ';':
			return out.String()
		case '"':
			_, code, _ = strings.Cut(code[1:], `"`)
			continue
		case '\\', '_', '*':
			code = code[min(2, len(code)):]
			continue
		case '[':
			inside, rest, _ := strings.Cut(code[1:], "]")
			if strings.Trim(strings.ToLower(inside), "hms") == "" {
				out.WriteString(inside)
			}
			code = rest
			continue
		default:
			out.WriteByte(c)
		}
		code = code[1:]
	}
	return out.String()
}

// epoch is the day from which a workbook counts.
type epoch int

const (
	from1900 epoch = iota
	from1904
)

// show writes a number as its format means it, in the notation that tables have:
// days as YYYY-MM-DD, times with colons.
func (f format) show(typed string, from epoch) (string, bool) {
	v, err := strconv.ParseFloat(typed, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return typed, false
	}
	switch {
	case f.day:
		return showDay(v, from)
	case f.hour || f.minute:
		return f.showTime(v)
	}
	return f.showNumber(v), true
}

// showNumber writes the 15 digits that the programs themselves show, never with
// an exponent, and the noughts that the format asks for.
func (f format) showNumber(v float64) string {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64) // just written
	text := strconv.FormatFloat(math.Abs(v), 'f', -1, 64)
	whole, decimals, _ := strings.Cut(text, ".")
	whole = strings.Repeat("0", max(0, f.whole-len(whole))) + whole
	decimals += strings.Repeat("0", max(0, f.decimals-len(decimals)))
	if decimals != "" {
		whole += "." + decimals
	}
	if v < 0 {
		return "-" + whole
	}
	return whole
}

// The last day that a workbook knows is the end of the year 9999.
const lastDay = 2_958_465

func showDay(v float64, from epoch) (string, bool) {
	seconds := int(math.Round(min(v, lastDay+1) * 86400))
	days := seconds / 86400
	if v < 0 || days > lastDay {
		return "", false
	}
	start := time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	if from == from1900 {
		// The system of 1900 counts from 1 and has a 29 February 1900, which never
		// was: from March on it is a day ahead.
		start = time.Date(1899, 12, 31, 0, 0, 0, 0, time.UTC)
		switch {
		case days == 0 || days == 60:
			return "", false
		case days > 60:
			days--
		}
	}
	day := start.AddDate(0, 0, days)
	if day.Year() > 9999 {
		return "", false
	}
	if seconds %= 86400; seconds != 0 {
		day = day.Add(time.Duration(seconds) * time.Second)
		return day.Format("2006-01-02 15:04:05"), true
	}
	return day.Format(time.DateOnly), true
}

// showTime writes 12:31. Seconds are shown where there are some.
func (f format) showTime(v float64) (string, bool) {
	if v < 0 || v > 1000 {
		return "", false
	}
	seconds := int(math.Round(v * 86400))
	switch {
	case f.minute:
		return fmt.Sprintf("%d:%02d", seconds/60, seconds%60), true
	case seconds%60 == 0:
		return fmt.Sprintf("%d:%02d", seconds/3600, seconds/60%60), true
	}
	return fmt.Sprintf("%d:%02d:%02d", seconds/3600, seconds/60%60, seconds%60), true
}

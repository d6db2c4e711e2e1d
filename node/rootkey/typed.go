package rootkey

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Typed is what a person has typed so far of a root: some of its groups. The zero
// value has none.
type Typed struct {
	groups [Count][]byte
	next   int // the group that is typed next, if it isn't the first that is missing
	unused int // how many groups of the last line were not taken
}

// Next is the number of the group to be typed next, from 1; 0 if none is missing.
func (t *Typed) Next() int {
	if t.next != 0 {
		return t.next
	}
	for i, group := range t.groups {
		if group == nil {
			return i + 1
		}
	}
	return 0
}

// Again lets a group be typed once more.
func (t *Typed) Again(number int) { t.next = number }

// Unused is how many groups of the last line were not taken: those that would have
// replaced one that was typed before and that nobody asked for.
func (t *Typed) Unused() int { return t.unused }

// Add takes a line: one group or several, from the next one on or from that whose
// number stands before them. A number alone says which is next. A group that is there
// already is replaced only where it was asked for, or by a whole root. It returns what
// is wrong with which; all others are taken.
func (t *Typed) Add(line []byte) (wrong []string) {
	typed := fields(line)
	whole := isWhole(typed)
	number, missed, asked := t.Next(), 0, t.next != 0
	if whole {
		number = 1
	}
	t.next, t.unused = 0, 0
	for _, field := range typed {
		if n, is := numbered(field); is {
			number, t.next, asked = n, n, true
			continue
		}
		switch says := WrongGroup(number, field); {
		case number > 0 && number <= Count && t.groups[number-1] != nil && !asked && !whole:
			t.unused++
		case number == 0:
			return append(wrong, "all groups are typed: to type one again say which, as in 5 ABCD")
		case number > Count:
			return append(wrong, fmt.Sprintf("a root has %d groups, and more are typed", Count))
		case says != "":
			wrong, missed = append(wrong, says), cmp.Or(missed, number)
		default:
			clear(t.groups[number-1])
			t.groups[number-1] = bytes.ToUpper(field)
		}
		number, t.next, asked = number+1, 0, false
	}
	if missed > 0 && t.groups[missed-1] != nil {
		t.next = missed // what it was before was to be replaced
	}
	return wrong
}

// Group is a group as it was typed; empty if it is missing.
func (t *Typed) Group(number int) string { return string(t.groups[number-1]) }

// Root is the text of the groups, which the caller clears.
func (t *Typed) Root() []byte { return bytes.Join(t.groups[:], []byte(" ")) }

// Clear overwrites what was typed.
func (t *Typed) Clear() {
	for _, group := range t.groups {
		clear(group)
	}
	*t = Typed{}
}

// fields takes a line apart into groups and numbers. Groups may stand without a space
// between them.
func fields(line []byte) [][]byte {
	var fields [][]byte
	for _, field := range bytes.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" -\r\n\t", r) }) {
		if len(field)%Group == 0 || len(field) == letterCount {
			for len(field) > Group {
				fields, field = append(fields, field[:Group]), field[Group:]
			}
		}
		fields = append(fields, field)
	}
	return fields
}

// isWhole reports whether a line holds a whole root, without numbers.
func isWhole(fields [][]byte) bool {
	return len(fields) == Count && !slices.ContainsFunc(fields, func(field []byte) bool {
		_, is := numbered(field)
		return is
	})
}

// numbered reads the number of a group. None can be taken for a group: those of two
// digits have one that no root has.
func numbered(field []byte) (int, bool) {
	n, err := strconv.Atoi(string(bytes.TrimRight(field, ".:)")))
	return n, err == nil && n >= 1 && n <= Count && len(field) < Group
}

// WrongGroup says what is wrong with the group of that number, from 1, as typed
// alone; nothing if it may be right.
func WrongGroup(number int, group []byte) string {
	want := Group
	if number == Count {
		want = lastGroup
	}
	letters := 0
	for _, c := range group {
		if c = upper(c); (c < 'A' || c > 'Z') && (c < '2' || c > '7') {
			return fmt.Sprintf("group %d holds %q: a root has letters and the digits 2 to 7 only%s", number, c, meant[c])
		}
		letters++
	}
	if letters != want {
		return fmt.Sprintf("group %d has %d letters, not %d", number, letters, want)
	}
	return ""
}

// meant says what was read wrongly for what no root has.
var meant = map[byte]string{'0': "; see whether it is an O", '1': "; see whether it is an I", '8': "; see whether it is a B", '9': "; see whether it is a g"}

// Doubtful is the number of the group that doesn't fit the others: with one or two
// other letters in it, or two exchanged, the root would be whole. 0 if that is so of
// none, as where two groups are wrong. Of what is wrong in another way it names a
// group once in some 50,000 times. What the letters should be is the paper's to say.
func (t *Typed) Doubtful() int {
	letters := bytes.Join(t.groups[:], nil)
	defer clear(letters)
	data := make([]byte, text.DecodedLen(letterCount))
	defer clear(data)
	if len(letters) != letterCount {
		return 0
	}
	for from := 0; from < letterCount; from += Group {
		upto := min(from+Group, letterCount)
		for i := from; i < upto; i++ {
			for j := i + 1; j < upto; j++ {
				if otherwise(letters, i, j, data) {
					return from/Group + 1
				}
			}
		}
	}
	return 0
}

// alphabet is RFC 4648's, section 6.
const alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"

// otherwise reports whether the root fits with other letters at two places. It
// leaves the letters as they were.
func otherwise(letters []byte, i, j int, data []byte) bool {
	first, second := letters[i], letters[j]
	defer func() { letters[i], letters[j] = first, second }()
	for _, letters[i] = range []byte(alphabet) {
		for _, letters[j] = range []byte(alphabet) {
			if fits(letters, data) {
				return true
			}
		}
	}
	return false
}

// whatIsWrong says which groups of a text can't be right, as a sentence.
func whatIsWrong(root []byte) string {
	var t Typed
	defer t.Clear()
	wrong := t.Add(root)
	number := t.Doubtful()
	switch {
	case len(wrong) > 0:
		says := strings.Join(wrong, "; ")
		return strings.ToUpper(says[:1]) + says[1:]
	case t.Next() > 0:
		return fmt.Sprintf("Of its %d groups those from number %d on are missing", Count, t.Next())
	case number > 0:
		return fmt.Sprintf("Group %d doesn't fit the others", number)
	}
	return "More than one of its groups is wrong"
}

package record

import (
	"errors"
	"fmt"
	"strings"
)

var (
	// ErrUnreadable is returned when a stored value isn't in the canonical form
	// of its field: it was written by a newer version or by a faulty one. The
	// value is kept; it is shown as unreadable.
	ErrUnreadable = errors.New("unreadable value")
	// ErrUnknown is returned when no kind or field has the name that was typed.
	ErrUnknown = errors.New("unknown name")
)

// Invalid says that something typed is no value of a register, and why.
type Invalid struct {
	// Path is the register as people type it, such as grades.hand_use.
	Path string
	// Typed is what was given for it.
	Typed string
	// Reason is one sentence: what is wrong and what to do.
	Reason string
}

func (e *Invalid) Error() string {
	return fmt.Sprintf("%s %q: %s", e.Path, Shorten(e.Typed), e.Reason)
}

// Shorten keeps a pasted page out of a line: it gives the first words of a text,
// 60 characters at most, with … where there are more.
func Shorten(text string) string {
	const most = 60
	runes := []rune(text)
	if len(runes) <= most {
		return text
	}
	first := string(runes[:most])
	if end := strings.LastIndexByte(first, ' '); end > most/2 {
		first = first[:end]
	}
	return first + "…"
}

func unreadable(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrUnreadable, fmt.Sprintf(format, args...))
}

// reason is an error whose register isn't known yet; [Register] names it.
type reason string

func (r reason) Error() string { return string(r) }

func because(format string, args ...any) error { return reason(fmt.Sprintf(format, args...)) }

package measure

import (
	"errors"
	"testing"
)

// FuzzParse reads what anybody may type as a measurement: an amount within the
// limits that is written and read as the same one, or a problem.
func FuzzParse(f *testing.F) {
	for _, text := range []string{"6046", `6'4 3/8"`, "33 1/4", "4.85", "193 cm", "0334", "½", "9999999999999999999", "1/0"} {
		f.Add(byte(0), text)
		f.Add(byte(3), text)
	}
	f.Fuzz(func(t *testing.T, of byte, typed string) {
		what := All()[int(of)%len(All())]
		got, err := Parse(what, typed)
		if err != nil {
			var problem *Error
			if !errors.As(err, &problem) {
				t.Errorf("%q: %v is of another type", typed, err)
			}
			return
		}
		if got.Amount < specs[what].min || got.Amount > specs[what].max {
			t.Errorf("%q reads as %d, outside the limits", typed, got.Amount)
		}
		if again, err := Parse(what, Format(what, got.Amount)); err != nil || again.Amount != got.Amount {
			t.Errorf("%q reads as %d, is written %q and read as %d, %v", typed, got.Amount, Format(what, got.Amount), again.Amount, err)
		}
	})
}

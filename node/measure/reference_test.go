package measure

import (
	"encoding/json"
	"errors"
	"os"
	"testing"
)

// TestReferenceLengths holds the notation of lengths to the reference cases;
// their source is stated in the file.
func TestReferenceLengths(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/lengths.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []struct {
			Kind, Typed, Canonical, Error string
			Eighths                       int64
			Exact                         bool
		}
	}
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Cases) != 33 {
		t.Fatalf("%d cases, want the 33 of the file", len(file.Cases))
	}
	for _, c := range file.Cases {
		t.Run(c.Kind+" "+c.Typed, func(t *testing.T) {
			what, ok := Named(c.Kind)
			if !ok {
				t.Fatalf("no measure %s", c.Kind)
			}
			got, err := Parse(what, c.Typed)
			if c.Error != "" {
				var problem *Error
				if !errors.As(err, &problem) || string(problem.Problem) != c.Error {
					t.Fatalf("got %+v, %v; want problem %s", got, err, c.Error)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got.Amount != c.Eighths || got.Rounded == c.Exact || Format(what, got.Amount) != c.Canonical {
				t.Errorf("got %+v, written %s; want %d eighths, exact %t, %s",
					got, Format(what, got.Amount), c.Eighths, c.Exact, c.Canonical)
			}
		})
	}
}

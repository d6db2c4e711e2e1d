package measure

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// TestReferencePercentiles holds the percentile to the reference cases; their
// source and tolerance are stated in the file.
func TestReferencePercentiles(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/percentiles.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []struct {
			Name          string
			Cohort, X     []float64
			LowerIsBetter bool `json:"lower_is_better"`
			Percentile    []float64
		}
	}
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Cases) != 5 {
		t.Fatalf("%d cases, want the 5 of the file", len(file.Cases))
	}
	for _, c := range file.Cases {
		t.Run(c.Name, func(t *testing.T) {
			for i, x := range c.X {
				got, ok := Percentile(c.Cohort, x, c.LowerIsBetter)
				// The file has ten significant digits.
				if !ok || math.Abs(got-c.Percentile[i]) > 1e-8 {
					t.Errorf("%v stands at %v, %v; want %v", x, got, ok, c.Percentile[i])
				}
			}
		})
	}
}

func TestPercentileOfNothing(t *testing.T) {
	if _, ok := Percentile(nil, 1, false); ok {
		t.Error("there is no standing without a cohort")
	}
}

package node

import (
	"slices"
	"strings"

	"plumbline/node/measure"
)

// A prospect's standing is the percentile of a measurement among the prospects
// of the same position that have it. It depends on all of them, so it is
// worked out when somebody asks for it, and goes with the size of the cohort.

const (
	standingSuffix = "_percentile"
	cohortSuffix   = "_cohort"
)

// standings adds the percentiles of the measures to every row.
func standings(rows []listed, of []measure.What) {
	for _, what := range of {
		cohorts := map[string][]float64{}
		for _, row := range rows {
			if value, ok := row.vars[what.String()].(float64); ok && position(row) != "" {
				cohorts[position(row)] = append(cohorts[position(row)], value)
			}
		}
		for _, row := range rows {
			value, ok := row.vars[what.String()].(float64)
			if !ok {
				continue
			}
			cohort := cohorts[position(row)]
			if standing, ok := measure.Percentile(cohort, value, what.LessIsBetter()); ok {
				row.vars[what.String()+standingSuffix] = standing
				row.vars[what.String()+cohortSuffix] = int64(len(cohort))
			}
		}
	}
}

func position(row listed) string {
	p, _ := row.vars["position"].(string)
	return p
}

// standingsIn returns the measures whose standing the names ask for.
func standingsIn(names []string) []measure.What {
	var asked []measure.What
	for _, name := range names {
		name = strings.TrimPrefix(name, "-")
		base, ok := strings.CutSuffix(name, standingSuffix)
		if !ok {
			base, ok = strings.CutSuffix(name, cohortSuffix)
		}
		if what, known := measure.Named(base); ok && known && !slices.Contains(asked, what) {
			asked = append(asked, what)
		}
	}
	return asked
}

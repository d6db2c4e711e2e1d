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
	if len(of) == 0 {
		return
	}
	for _, what := range of {
		cohorts := map[string][]float64{}
		for _, row := range rows {
			if value, ok := row.measured(what); ok {
				cohorts[position(row)] = append(cohorts[position(row)], value)
			}
		}
		for i, row := range rows {
			rows[i].stand(what, cohorts[position(row)])
		}
	}
}

// standingOf adds the percentiles of all measures to one of the rows. Only those
// of his position, and only what he has, are looked at: it is done for every page.
func standingOf(row listed, rows []listed) listed {
	var peers []listed
	at := position(row)
	for _, other := range rows {
		if at != "" && position(other) == at {
			peers = append(peers, other)
		}
	}
	for _, what := range measure.All() {
		name := what.String()
		if _, has := row.at(name).(float64); !has {
			continue
		}
		var cohort []float64
		for _, peer := range peers {
			if value, ok := peer.at(name).(float64); ok {
				cohort = append(cohort, value)
			}
		}
		row.stand(what, cohort)
	}
	return row
}

// measured returns a number that is compared with those of the same position.
func (l listed) measured(what measure.What) (float64, bool) {
	value, ok := l.at(what.String()).(float64)
	return value, ok && position(l) != ""
}

func (l *listed) stand(what measure.What, cohort []float64) {
	value, ok := l.at(what.String()).(float64)
	if !ok {
		return
	}
	if standing, ok := measure.Percentile(cohort, value, what.LessIsBetter()); ok {
		if l.vars == nil {
			l.vars = map[string]any{}
		}
		l.vars[what.String()+standingSuffix] = standing
		l.vars[what.String()+cohortSuffix] = int64(len(cohort))
	}
}

func position(row listed) string {
	p, _ := row.at("position").(string)
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

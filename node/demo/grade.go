package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"
)

// Opinion is one person's evaluation of one prospect.
type Opinion struct {
	Scout              PersonIndex
	Prospect           int
	Grades             map[string]int
	Overall, Projected int
	Reach, Role        string
	Strengths          string
	Concerns           string
	Summary            string
	Verdict            string
	NextLook           string
	Taste              string
	Filed              time.Time // zero while it isn't filed
}

// grade has each prospect evaluated by the scout of his area, then the shared
// ones by everybody else, then the rest, until there are enough evaluations.
func (w *World) grade() {
	r := w.stream(streamGrades)
	own := make([]map[string]float64, len(w.Prospects))
	for i, p := range w.Prospects {
		own[i] = map[string]float64{}
		for _, factor := range factors(p.Position) {
			own[i][factor] = p.truly(factor) + 0.9*r.NormFloat64()
		}
	}
	opine := func(scout PersonIndex, prospect int) {
		if len(w.Opinions) < w.Size.Evaluations {
			w.Opinions = append(w.Opinions, w.opinion(r, scout, prospect, own[prospect]))
		}
	}
	for i, p := range w.Prospects {
		opine(p.Area, i)
	}
	for _, shared := range []bool{true, false} {
		for step := 1; step < len(w.People); step++ {
			for i, p := range w.Prospects {
				if p.Shared == shared {
					opine(PersonIndex((int(p.Area)+step)%len(w.People)), i)
				}
			}
		}
	}
}

// truly is what an ideal grader would give, before what makes players differ
// from factor to factor.
func (p Prospect) truly(factor string) float64 {
	grade := 5 + 1.2*p.Truth.Skill
	switch {
	case factor == "strength" || factor == "anchor":
		grade += 0.9 * p.Truth.Strength
	case factor == "hand_use" && onLine(p.Position) && p.Truth.LateHands:
		grade -= 1.2
	case factor == "finish" && p.Truth.Tires:
		grade--
	}
	return grade
}

func (w *World) opinion(r *rand.Rand, scout PersonIndex, prospect int, own map[string]float64) Opinion {
	person, p := w.People[scout], w.Prospects[prospect]
	round := func(grade float64) int { return int(math.Round(min(9, max(1, grade+person.Bias)))) }
	o := Opinion{Scout: scout, Prospect: prospect, Grades: map[string]int{}}
	sum, best, worst := 0.0, "", ""
	for _, factor := range factors(p.Position) {
		sum += own[factor]
		o.Grades[factor] = round(own[factor] + 0.6*r.NormFloat64())
		if best == "" || own[factor] > own[best] {
			best = factor
		}
		if worst == "" || own[factor] < own[worst] {
			worst = factor
		}
	}
	mean := sum/float64(len(own)) + 0.4*r.NormFloat64()
	o.Overall = round(mean)
	o.Projected = min(9, o.Overall+r.IntN(3))
	o.Reach = []string{"year_one", "year_two", "year_three"}[o.Projected-o.Overall]
	o.Role = role(o.Projected)
	o.say(r, p, best, worst)
	if r.IntN(10) < 6 {
		o.Filed = seasonStart.AddDate(0, 0, 50+r.IntN(30))
	}
	return o
}

func role(projected int) string {
	switch {
	case projected >= 7:
		return "starter"
	case projected == 6:
		return "spot_starter"
	case projected == 5:
		return "backup"
	case projected == 4:
		return "special_teams"
	}
	return "development"
}

func (o *Opinion) say(r *rand.Rand, p Prospect, best, worst string) {
	o.Strengths = praised(best) + "."
	o.Concerns = doubted(worst) + "."
	if onLine(p.Position) && p.Truth.LateHands {
		o.Concerns += " Punch comes late when speed goes outside."
	}
	if p.Truth.Tires {
		o.Concerns += " Fades in the fourth quarter."
	}
	place := strings.ReplaceAll(p.Position, "_", " ")
	o.Summary = fmt.Sprintf("%s from %s: %s, but %s.", upper(place), p.School, lower(praised(best)), lower(doubted(worst)))
	o.Verdict = one(r, verdicts[o.Role])
	if r.IntN(3) == 0 {
		o.NextLook = one(r, []string{"His best opponent.", "A game late in the year.", "The other side of the line.", "Live, in warm-ups."})
	}
	if r.IntN(9) == 0 {
		o.Taste = one(r, []string{"I like heavy hands more than most.", "I forgive bad feet too easily.", "I'm hard on finish."})
	}
}

var verdicts = map[string][]string{
	"starter":       {"Starts for us.", "Take him early.", "Plug him in and forget about it."},
	"spot_starter":  {"Wins in a pinch.", "Good third man at two spots."},
	"backup":        {"Depth.", "A useful second man."},
	"special_teams": {"Makes it on kicks or not at all."},
	"development":   {"A year away, maybe two.", "Late, or after everybody else."},
}

// praised and doubted put a factor into words.
func praised(factor string) string {
	if text, ok := praise[factor]; ok {
		return text
	}
	return "Good " + strings.ReplaceAll(factor, "_", " ")
}

func doubted(factor string) string {
	if text, ok := doubt[factor]; ok {
		return text
	}
	return "Lacks " + strings.ReplaceAll(factor, "_", " ")
}

func upper(text string) string { return strings.ToUpper(text[:1]) + text[1:] }
func lower(text string) string { return strings.ToLower(text[:1]) + text[1:] }

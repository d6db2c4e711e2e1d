package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// Rep is one snap, in the words of the schema.
type Rep struct {
	Quarter, Clock, Down, Distance int // clock in seconds left
	Yard                           int // from the own goal line, 1 to 99
	Play, PassSet, Assignment      string
	Scheme, Alignment, Move, Side  string
	Opponent                       string // jersey
	Seen                           []string
	Observations, Result, Outcome  string
	Film                           string
	From, To                       time.Duration // in the film; To 0 without a clip
}

// chart draws the reps of a look in the order in which they were played.
func chart(r *rand.Rand, p Prospect, front float64, count int, film string) []Rep {
	side := []string{"left", "right"}[r.IntN(2)]
	if p.Position == "center" {
		side = ""
	}
	opponents := []string{fmt.Sprint(50 + r.IntN(49)), fmt.Sprint(90 + r.IntN(10))}
	perQuarter := (count + 3) / 4
	reps := make([]Rep, count)
	for i := range reps {
		rep := Rep{Quarter: 1 + i/perQuarter, Side: side, Film: film, Opponent: opponents[r.IntN(2)]}
		step := 900 / (perQuarter + 1)
		rep.Clock = 900 - (i%perQuarter+1)*step + r.IntN(step)
		rep.situate(r)
		rep.play(r, p.Position)
		rep.decide(r, p, front)
		rep.describe(r)
		if r.IntN(12) != 0 {
			rep.From = time.Duration((rep.Quarter-1)*2100+(900-rep.Clock)*2+r.IntN(5)) * time.Second
			rep.To = rep.From + time.Duration(4000+500*r.IntN(9))*time.Millisecond
		}
		reps[i] = rep
	}
	return reps
}

// situate draws down, distance and place.
func (s *Rep) situate(r *rand.Rand) {
	s.Down, s.Yard = 1+r.IntN(3), 10+r.IntN(80)
	s.Distance = 10
	if s.Down > 1 {
		s.Distance = 1 + r.IntN(12)
	}
	s.Distance = min(s.Distance, 100-s.Yard)
}

var (
	passMoves = map[string][]string{
		"tackle": {"speed", "speed", "speed", "rip", "bull", "bull", "long_arm", "swipe", "club", "spin", "inside_counter", "inside_counter", "stunt"},
		"guard":  {"bull", "bull", "bull", "swim", "club", "rip", "swipe", "long_arm", "stunt", "stunt", "delayed_blitz"},
		"center": {"bull", "bull", "club", "swim", "rip", "stunt", "stunt", "delayed_blitz"},
	}
	alignments = map[string][]string{
		"tackle": {"wide", "wide", "outside_shade", "outside_shade", "head_up", "inside_eye"},
		"guard":  {"head_up", "outside_shade", "inside_eye", "over_guard", "over_guard", "off_ball"},
		"center": {"over_center", "over_center", "inside_eye", "over_guard", "off_ball"},
	}
	assignments = map[string][]string{
		"tackle": {"base", "base", "reach", "down", "double_team", "cut_off", "second_level"},
		"guard":  {"base", "double_team", "double_team", "pull_kick", "pull_wrap", "pull_skip", "reach", "down", "second_level"},
		"center": {"base", "reach", "reach", "back_block", "double_team", "second_level", "cut_off"},
	}
	schemes = []string{"inside_zone", "inside_zone", "outside_zone", "outside_zone", "gap", "counter", "duo", "draw", "screen"}
	sets    = []string{"vertical", "vertical", "vertical", "angle", "angle", "flat", "jump"}
)

func one(r *rand.Rand, of []string) string { return of[r.IntN(len(of))] }

// play draws what was played; longer distances are passed.
func (s *Rep) play(r *rand.Rand, position string) {
	s.Alignment = one(r, alignments[position])
	if r.Float64() < 0.42+0.025*float64(s.Distance)-0.05*float64(4-s.Quarter) {
		s.Play, s.PassSet, s.Move = "pass", one(r, sets), one(r, passMoves[position])
		return
	}
	s.Play, s.Assignment, s.Scheme = "run", one(r, assignments[position]), one(r, schemes)
	if strings.HasPrefix(s.Assignment, "pull") {
		s.Scheme = one(r, []string{"gap", "counter"})
	}
}

// outsideSpeed is where a late punch loses.
func (s *Rep) outsideSpeed() bool {
	return s.Play == "pass" && (s.Move == "speed" || s.Move == "rip") && (s.Alignment == "wide" || s.Alignment == "outside_shade")
}

// decide draws the result: the prospect's truth against the front, what he does
// wrong here, and chance.
func (s *Rep) decide(r *rand.Rand, p Prospect, front float64) {
	edge := 0.75*p.Truth.Skill - 0.45*front + 0.6
	if s.Move == "bull" || s.Assignment == "base" || s.Assignment == "double_team" {
		edge += 0.6 * p.Truth.Strength
	}
	if chance := 0.06; s.outsideSpeed() {
		if p.Truth.LateHands {
			chance = 0.7
		}
		if r.Float64() < chance {
			s.Seen = append(s.Seen, "late_hands")
			edge -= 2.4
		}
	}
	if s.Quarter == 4 && p.Truth.Tires {
		edge -= 1.1
		if r.Float64() < 0.5 {
			s.Seen = append(s.Seen, "waist_bend")
		}
	}
	u := r.Float64()
	edge += math.Log(u / (1 - u)) // a logistic draw
	switch {
	case edge > 0.1:
		s.Result = "won"
	case edge > -0.9:
		s.Result = "even"
	default:
		s.Result = "lost"
	}
	s.Outcome = one(r, outcomes[s.Play+" "+s.Result])
}

var outcomes = map[string][]string{
	"pass won":  {"clean"},
	"pass even": {"clean", "clean", "clean", "pressure"},
	"pass lost": {"pressure", "pressure", "pressure", "hit", "hit", "sack", "penalty"},
	"run won":   {"displaced", "sealed", "sealed"},
	"run even":  {"stalemate"},
	"run lost":  {"shed", "shed", "missed", "penalty"},
}

// describe adds what else was seen, and the scout's words on some of the reps.
func (s *Rep) describe(r *rand.Rand) {
	more := one(r, signs[s.Play+" "+s.Result])
	if more != "" && !slices.Contains(s.Seen, more) {
		s.Seen = append(s.Seen, more)
	}
	if r.IntN(3) == 0 {
		return
	}
	var parts []string
	for _, sign := range s.Seen {
		parts = append(parts, one(r, phrases[sign]))
	}
	if s.Play == "pass" {
		parts = append(parts, strings.ReplaceAll(s.Move, "_", " "))
	} else {
		parts = append(parts, strings.ReplaceAll(s.Assignment, "_", " "))
	}
	s.Observations = strings.Join(append(parts, strings.ReplaceAll(s.Outcome, "_", " ")), ", ")
}

package demo

import (
	"math/rand/v2"
	"time"
)

// Game is one game of the autumn.
type Game struct {
	Home, Away string
	Date       time.Time
	// strength of the two sides' fronts, home first
	fronts [2]float64
}

// Look is one scout watching one prospect in one game.
type Look struct {
	Scout    PersonIndex
	Prospect int // in [World.Prospects]
	Game     int // in [World.Games]
	Mode     string
	Opponent string // best, strong, average or weak
	Date     time.Time
	Reps     []Rep
}

var (
	seasonStart = time.Date(2026, time.September, 5, 0, 0, 0, 0, time.UTC)
	mostWeeks   = 13
)

// schedule pairs the schools around a ring, a step further each time around. The
// steps are odd and so is nobody's number of schools: no one plays twice a week.
func (w *World) schedule() {
	r := w.stream(streamFilm)
	schools := max(2, min(w.schools(), w.Size.Games)&^1)
	for g := range w.Size.Games {
		round, at := g/schools, g%schools
		other := (at + 1 + 2*round) % schools
		week := (at%2 + 2*round) % mostWeeks
		w.Games = append(w.Games, Game{
			Home: w.school(at), Away: w.school(other), Date: seasonStart.AddDate(0, 0, 7*week),
			fronts: [2]float64{r.NormFloat64(), r.NormFloat64()},
		})
	}
}

func (w *World) schools() int { return (w.Size.Prospects + perSchool - 1) / perSchool }

func (w *World) school(n int) string { return w.Prospects[n*perSchool].School }

// watch charts the offensive lines of both sides of each game: first one scout a
// game, then a second one, until there are enough looks.
func (w *World) watch() {
	r := w.stream(streamFilm + 1<<8)
	left := w.Size.Reps
	for pass := range w.Size.Scouts {
		for g := range w.Games {
			for p := range w.Prospects {
				if left == 0 {
					return
				}
				if !w.played(p, g) {
					continue
				}
				look := w.look(r, w.scout(g+pass), p, g)
				look.Reps = chart(r, w.Prospects[p], w.front(p, g), min(left, w.Size.RepsPerLook), film(g))
				left -= len(look.Reps)
				w.Looks = append(w.Looks, look)
			}
		}
	}
}

func (w *World) played(prospect, game int) bool {
	p, g := w.Prospects[prospect], w.Games[game]
	return onLine(p.Position) && (p.School == g.Home || p.School == g.Away)
}

// front is how strong the other side's front is.
func (w *World) front(prospect, game int) float64 {
	g := w.Games[game]
	if w.Prospects[prospect].School == g.Home {
		return g.fronts[1]
	}
	return g.fronts[0]
}

func (w *World) look(r *rand.Rand, scout PersonIndex, prospect, game int) Look {
	look := Look{Scout: scout, Prospect: prospect, Game: game, Mode: "film", Date: w.Games[game].Date.AddDate(0, 0, 2+r.IntN(9))}
	if r.IntN(6) == 0 {
		look.Mode, look.Date = "live", w.Games[game].Date
	}
	switch front := w.front(prospect, game); {
	case front > 1:
		look.Opponent = "best"
	case front > 0.2:
		look.Opponent = "strong"
	case front > -0.9:
		look.Opponent = "average"
	default:
		look.Opponent = "weak"
	}
	return look
}

// film names the film of a game.
func film(game int) string { return "GAME-" + word(game) }

package demo

import "math/rand/v2"

// Size says how large a world is.
type Size struct {
	Scouts      int
	Prospects   int
	Games       int
	Reps        int
	RepsPerLook int
	Evaluations int
}

var (
	// Small is a world to look at.
	Small = Size{Scouts: 2, Prospects: 64, Games: 4, Reps: 600, RepsPerLook: 20, Evaluations: 90}
	// Season is what a staff of forty gathers in a year.
	Season = Size{Scouts: 39, Prospects: 3000, Games: 800, Reps: 300_000, RepsPerLook: 50, Evaluations: 12_000}
)

// PersonIndex is a person's place in [World.People]. The director is the first.
type PersonIndex int

// Director is the place of the director.
const Director PersonIndex = 0

// World is an invented staff and what it knows.
type World struct {
	Seed      uint64
	Size      Size
	Staff     string
	People    []Person
	Prospects []Prospect
	Games     []Game
	Looks     []Look
	Opinions  []Opinion
	// Twice is a prospect on nobody's list, whom two scouts add by hand.
	Twice Twice
}

// Person is a member of the staff.
type Person struct {
	Name, Title, Laptop string
	// Bias is how many grades easier than the others this one grades.
	Bias float64
}

// Prospect is a player, with the truth that reps and grades follow from.
type Prospect struct {
	Name, School, Position, Jersey, Hometown string
	ClassYear                                int
	// Area is the scout in whose area the school lies.
	Area PersonIndex
	// Shared ones are on everybody's list.
	Shared bool
	Body   Body
	Truth  Truth
}

// Truth is what a staff would like to know of a prospect. Skill and strength have
// a mean of 0 and a spread of 1.
type Truth struct {
	Skill, Strength float64
	// LateHands: he punches late, and loses by it, against speed to the outside.
	LateHands bool
	// Tires: he loses more in the fourth quarter.
	Tires bool
}

// The parts of a world draw from streams of their own, so that a change to one
// leaves the others as they were.
const (
	streamPeople uint64 = iota + 1
	streamNames
	streamBodies
	streamFilm
	streamGrades
	streamTables
)

func (w *World) stream(part uint64) *rand.Rand { return rand.New(rand.NewPCG(w.Seed, part)) }

// New invents a world. There are two scouts at least, and enough prospects for
// them to disagree about.
func New(seed uint64, size Size) *World {
	size.Scouts = max(size.Scouts, 2)
	size.Prospects = max(size.Prospects, 3*perSchool)
	size.RepsPerLook = max(size.RepsPerLook, 1)
	w := &World{Seed: seed, Size: size, Staff: "Northfold Scouting"}
	w.hire()
	w.enlist()
	w.measure()
	w.schedule()
	w.watch()
	w.grade()
	return w
}

// perSchool is how many prospects of one school there are.
const perSchool = 8

// lineup is the order in which positions come up: six of sixteen are on the
// offensive line, four in one school and two in the next.
var lineup = []string{
	"tackle", "edge", "guard", "receiver", "center", "cornerback", "tackle", "quarterback",
	"guard", "interior_line", "linebacker", "tackle", "running_back", "safety", "tight_end", "specialist",
}

// onLine tells whom the reps are charted of.
func onLine(position string) bool {
	return position == "tackle" || position == "guard" || position == "center"
}

// enlist draws the class.
func (w *World) enlist() {
	r := w.stream(streamNames)
	n := newNamer(r)
	for i := range w.Size.Prospects {
		school := i / perSchool
		if i%perSchool == 0 {
			n.enterSchool(school)
		}
		position := lineup[i%len(lineup)]
		w.Prospects = append(w.Prospects, Prospect{
			Name: n.player(), School: n.school, Position: position,
			Jersey: n.jersey(position), Hometown: n.town(), ClassYear: 2027,
			Area: w.scout(school), Shared: i%5 == 0,
			Truth: Truth{Skill: r.NormFloat64(), Strength: r.NormFloat64(), LateHands: i%3 == 0, Tires: i%4 == 2},
		})
	}
	w.Twice = n.twice()
}

// scout gives the n-th scout, counting around.
func (w *World) scout(n int) PersonIndex { return PersonIndex(1 + n%w.Size.Scouts) }

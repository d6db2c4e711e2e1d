package demo

import "testing"

// tally counts reps.
type tally struct{ lost, all float64 }

func (c *tally) add(s Rep) {
	c.all++
	if s.Result == "lost" {
		c.lost++
	}
}

func (c tally) share() float64 { return c.lost / c.all }

// charted is a world with enough reps for its structure to stand out of chance.
var charted = Size{Scouts: 2, Prospects: 240, Games: 60, Reps: 18_000, RepsPerLook: 50, Evaluations: 400}

// What the world was made with shows in what was charted of it.
func TestHabitsShow(t *testing.T) {
	w := New(1, charted)
	var late, onTime, elsewhere, tired, fresh tally
	for _, look := range w.Looks {
		truth := w.Prospects[look.Prospect].Truth
		for _, rep := range look.Reps {
			switch {
			case rep.outsideSpeed() && truth.LateHands:
				late.add(rep)
			case rep.outsideSpeed():
				onTime.add(rep)
			case rep.Quarter == 4 && truth.Tires:
				tired.add(rep)
			case rep.Quarter < 4 && truth.Tires:
				fresh.add(rep)
			case truth.LateHands:
				elsewhere.add(rep)
			}
		}
	}
	if late.share() < onTime.share()+0.1 || late.share() < elsewhere.share()+0.1 {
		t.Errorf("late against outside speed: %+v; others there: %+v; the same elsewhere: %+v", late, onTime, elsewhere)
	}
	if tired.share() < fresh.share()+0.1 {
		t.Errorf("tired: %+v, fresh: %+v", tired, fresh)
	}
}

func TestGradersAreHardAndEasy(t *testing.T) {
	w := New(1, charted)
	grades := map[int]map[PersonIndex]int{}
	for _, o := range w.Opinions {
		if grades[o.Prospect] == nil {
			grades[o.Prospect] = map[PersonIndex]int{}
		}
		if _, twice := grades[o.Prospect][o.Scout]; twice {
			t.Errorf("%s is evaluated twice by one scout", w.Prospects[o.Prospect].Name)
		}
		grades[o.Prospect][o.Scout] = o.Overall
	}
	sum, n := 0, 0
	for _, of := range grades {
		hard, ok1 := of[1]
		easy, ok2 := of[2]
		if ok1 && ok2 {
			sum, n = sum+easy-hard, n+1
		}
	}
	if mean := float64(sum) / float64(n); n < 40 || mean < 0.7 || mean > 2 {
		t.Errorf("the easy grader gives %.2f more, on %d prospects", mean, n)
	}
}

// The size for benchmarks holds what it says, and every table fits an import.
func TestSeasonSizes(t *testing.T) {
	w := New(1, Season)
	reps := 0
	for _, look := range w.Looks {
		reps += len(look.Reps)
	}
	if len(w.Prospects) != 3000 || len(w.Games) != 800 || reps != 300_000 || len(w.Looks) != 6000 || len(w.Opinions) != 12_000 || len(w.People) != 40 {
		t.Errorf("%d prospects, %d games, %d reps in %d looks, %d evaluations, %d people",
			len(w.Prospects), len(w.Games), reps, len(w.Looks), len(w.Opinions), len(w.People))
	}
	names := map[string]bool{}
	for _, p := range w.People {
		names[p.Name] = true
	}
	if len(names) != 40 {
		t.Errorf("40 people have %d names", len(names))
	}
	const most = 64 << 20 // of an import
	for _, table := range w.Tables(1) {
		if len(table.Data) > most || table.Rows > 200_000 {
			t.Errorf("%s: %d rows, %d bytes", table.File, table.Rows, len(table.Data))
		}
	}
}

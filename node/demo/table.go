package demo

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"strconv"
	"time"

	"plumbline/node/measure"
)

// Source is the name of the list that every table comes from: who imports the
// same player from it has the same record.
const Source = "class of 2027"

// Table is one file of a person, in CSV.
type Table struct {
	Kind, File string
	Rows       int
	Data       []byte
}

const day = time.DateOnly

// Tables returns what a person imports, in the order in which it is imported.
func (w *World) Tables(person PersonIndex) []Table {
	r := w.stream(streamTables + uint64(person)<<8)
	tables := []Table{w.prospectTable(r, person), w.measurementTable(r, person), w.gameTable(person), w.repTable(person), w.evaluationTable(person)}
	var filled []Table
	for _, t := range tables {
		if t.Rows > 0 {
			filled = append(filled, t)
		}
	}
	return filled
}

// lists tells whether a person's list has a prospect.
func lists(person PersonIndex, p Prospect) bool { return p.Shared || p.Area == person }

// prospectTable is a list with what the schools say of their players. The
// director's knows no jerseys and no towns.
func (w *World) prospectTable(r *rand.Rand, person PersonIndex) Table {
	t := newSheet("name", "position", "school", "class_year", "jersey", "hometown", "height", "weight", "source")
	if person == Director {
		t = newSheet("name", "position", "school", "class_year")
	}
	for _, p := range w.Prospects {
		if !lists(person, p) {
			continue
		}
		row := []string{p.Name, p.Position, p.School, strconv.Itoa(p.ClassYear)}
		if person != Director {
			row = append(row, p.Jersey, p.Hometown, listedHeight(r, p.Body), amount(measure.Weight, p.Body), "listed")
		}
		t.add(row...)
	}
	return t.table("prospect", w.file(person, "prospects"))
}

// listedHeight is what a school says: whole inches, rounded up, in one of the
// ways that people type.
func listedHeight(r *rand.Rand, body Body) string {
	inches := (body[measure.Height] + 7) / 8
	return fmt.Sprintf(one(r, []string{"%d-%d", "%d'%d\"", "%d ft %d in"}), inches/12, inches%12)
}

func amount(what measure.What, body Body) string { return measure.Format(what, body[what]) }

// measurementTable holds what a scout measured himself: the linemen of his list,
// and two in three of the others.
func (w *World) measurementTable(r *rand.Rand, person PersonIndex) Table {
	t := newSheet("name", "school", "class_year", "what", "value", "source", "timing", "date")
	for _, p := range w.Prospects {
		if person == Director || !lists(person, p) || !onLine(p.Position) && r.IntN(3) == 0 {
			continue
		}
		on := seasonStart.AddDate(0, 0, -40+r.IntN(90)).Format(day)
		for _, what := range measure.All() {
			if what > measure.Wingspan && r.IntN(4) != 0 {
				continue
			}
			timing := ""
			if what.Timed() {
				timing = one(r, []string{"hand", "electronic"})
			}
			t.add(p.Name, p.School, strconv.Itoa(p.ClassYear), what.String(), measure.Format(what, measured(r, what, p.Body)), "verified", timing, on)
		}
	}
	return t.table("measurement", w.file(person, "measurements"))
}

// measured is what somebody reads off: an eighth or a hundredth to either side.
func measured(r *rand.Rand, what measure.What, body Body) int64 {
	if r.IntN(3) != 0 {
		return body[what]
	}
	step := map[measure.Unit]int64{measure.EighthInch: 1, measure.TenthPound: 20, measure.Millisecond: 20, measure.Repetition: 1}[what.Unit()]
	if what == measure.Vertical || what == measure.BroadJump {
		step = 4
	}
	return max(0, body[what]+step*int64(1-2*r.IntN(2)))
}

// gameTable is the schedule, which the director has.
func (w *World) gameTable(person PersonIndex) Table {
	t := newSheet("date", "home", "away", "season", "week")
	for _, g := range w.Games {
		if person == Director {
			t.add(g.Date.Format(day), g.Home, g.Away, "2026", strconv.Itoa(1+int(g.Date.Sub(seasonStart).Hours()/(7*24))))
		}
	}
	return t.table("game", w.file(person, "games"))
}

func (w *World) repTable(person PersonIndex) Table {
	t := newSheet("name", "school", "class_year", "date", "home", "away", "mode", "look_date", "opponent_level",
		"number", "quarter", "clock", "down", "distance", "yard_line", "play", "pass_set", "assignment", "scheme",
		"alignment", "move", "side", "opponent_jersey", "seen", "observations", "result", "outcome", "clip")
	for _, look := range w.Looks {
		if look.Scout != person {
			continue
		}
		p, g := w.Prospects[look.Prospect], w.Games[look.Game]
		for i, rep := range look.Reps {
			t.add(p.Name, p.School, strconv.Itoa(p.ClassYear), g.Date.Format(day), g.Home, g.Away, look.Mode, look.Date.Format(day), look.Opponent,
				strconv.Itoa(i+1), strconv.Itoa(rep.Quarter), rep.clock(), strconv.Itoa(rep.Down), strconv.Itoa(rep.Distance), rep.yardLine(),
				rep.Play, rep.PassSet, rep.Assignment, rep.Scheme, rep.Alignment, rep.Move, rep.Side, rep.Opponent,
				list(rep.Seen), rep.Observations, rep.Result, rep.Outcome, rep.clip())
		}
	}
	return t.table("rep", w.file(person, "reps"))
}

func (w *World) evaluationTable(person PersonIndex) Table {
	all := allFactors()
	head := []string{"name", "school", "class_year", "overall", "projected", "reach", "role"}
	for _, factor := range all {
		head = append(head, "grades."+factor)
	}
	t := newSheet(append(head, "strengths", "concerns", "summary", "verdict", "next_look", "taste", "filed")...)
	for _, o := range w.Opinions {
		if o.Scout != person {
			continue
		}
		p := w.Prospects[o.Prospect]
		row := []string{p.Name, p.School, strconv.Itoa(p.ClassYear), strconv.Itoa(o.Overall), strconv.Itoa(o.Projected), o.Reach, o.Role}
		for _, factor := range all {
			grade := ""
			if n, ok := o.Grades[factor]; ok {
				grade = strconv.Itoa(n)
			}
			row = append(row, grade)
		}
		filed := ""
		if !o.Filed.IsZero() {
			filed = o.Filed.Format(day)
		}
		t.add(append(row, o.Strengths, o.Concerns, o.Summary, o.Verdict, o.NextLook, o.Taste, filed)...)
	}
	return t.table("evaluation", w.file(person, "evaluations"))
}

// file names a table after who has it.
func (w *World) file(person PersonIndex, what string) string {
	return w.People[person].Laptop + "-" + what + ".csv"
}

// sheet gathers rows. Writing to memory can't fail.
type sheet struct {
	data   bytes.Buffer
	writer *csv.Writer
	rows   int
}

func newSheet(columns ...string) *sheet {
	s := &sheet{rows: -1}
	s.writer = csv.NewWriter(&s.data)
	s.add(columns...)
	return s
}

func (s *sheet) add(cells ...string) {
	s.rows++
	_ = s.writer.Write(cells)
}

func (s *sheet) table(kind, file string) Table {
	s.writer.Flush()
	return Table{Kind: kind, File: file, Rows: s.rows, Data: s.data.Bytes()}
}

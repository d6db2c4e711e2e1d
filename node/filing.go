package node

import (
	"context"
	"errors"
	"slices"
	"time"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/sync/merge"
)

// File files an evaluation as of today. What is written after that shows as a
// revision. Whoever files one that was filed before names the days seen there.
func (n *Node) File(ctx context.Context, ref string, seen ...string) (Record, error) {
	w, err := n.begin(ctx)
	if err != nil {
		return Record{}, err
	}
	g, err := w.find(record.Evaluation, ref)
	if errors.Is(err, ErrNotFound) {
		err = refuse(ErrNotFound, "%v; an evaluation is named by its id, as plumbline list evaluation --ids shows it", err)
	}
	if err == nil {
		err = w.mayWrite(g)
	}
	if err != nil {
		return Record{}, err
	}
	if _, ok := shownValue(g.union, overallGrade); !ok {
		return Record{}, ungraded()
	}
	v, err := filedOn.Parse(n.cfg.Now().Format(time.DateOnly))
	if err != nil {
		return Record{}, err
	}
	have := g.union.Find(filedOn.Address())
	if have != nil && !have.Conflict() && same(have, v) {
		return w.done(g.leader)
	}
	ids, err := w.seen(g, filedOn, have, seen)
	if err != nil {
		return Record{}, err
	}
	if err := w.put(g, filedOn, v, ids); err != nil {
		return Record{}, err
	}
	return w.done(g.leader)
}

var overallGrade, filedOn = record.Must(record.Evaluation, "overall"), record.Must(record.Evaluation, "filed")

func ungraded() error {
	return refuse(ErrInvalid, "this evaluation has no overall grade yet: set overall=1 to 9, then file it")
}

// unfiled refuses to write the day of filing, as File does, while there is no overall
// grade, neither in the record nor in what is written with it.
func (w *writer) unfiled(k *record.Kind, sets []Set, of *merge.Record) error {
	if k.Number != record.Evaluation {
		return nil
	}
	filed, overall := setOf(k, sets, "filed"), setOf(k, sets, "overall")
	graded := overall >= 0 && !sets[overall].Clear // or it is wrong, and that is said
	if overall < 0 && of != nil {
		_, graded = shownValue(of, overallGrade)
	}
	if filed < 0 || sets[filed].Clear || graded {
		return nil
	}
	return ungraded()
}

// unfiledRow is unfiled for a row of a table that writes the day.
func unfiledRow(p importer.Proposal, of *merge.Record) error {
	if slices.ContainsFunc(p.Fields, func(f importer.FieldValue) bool { return f.Register == overallGrade }) {
		return nil
	}
	if of != nil {
		if _, graded := shownValue(of, overallGrade); graded {
			return nil
		}
	}
	return ungraded()
}

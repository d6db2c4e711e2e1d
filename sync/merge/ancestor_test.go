package merge_test

import (
	"testing"

	"plumbline/sync/merge"
)

// What a conflict's values were before. Where one value is the nearest that all
// of them replaced it is found, as git finds the base of a merge (git-merge-base,
// "best common ancestor"); where git finds several that differ there is none.
func TestAncestor(t *testing.T) {
	p := shared(1)
	for _, c := range []struct {
		name  string
		write func(base *fact, a, b *line)
		want  string
	}{
		{"both replaced it", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", base))
		}, "base"},
		{"one went on", func(base *fact, a, b *line) {
			a.Write(p, value(1, "third", a.Write(p, value(1, "first", base))))
			b.Write(p, value(1, "second", base))
		}, "base"},
		{"the nearest counts", func(base *fact, a, b *line) {
			nearer := b.Write(p, value(1, "nearer", base))
			a.Write(p, value(1, "first", nearer))
			b.Write(p, value(1, "second", nearer))
		}, "nearer"},
		{"one saw nothing", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second"))
		}, ""},
		{"a third comes from elsewhere", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", base))
			b.Write(p, value(1, "third"))
		}, ""},
		{"an equal value comes from elsewhere", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", base))
			b.Write(p, value(1, "first"))
		}, "base"},
		{"both began with the same", func(_ *fact, a, b *line) {
			a.Write(p, value(1, "first", a.Write(p, value(1, "listed"))))
			b.Write(p, value(1, "second", b.Write(p, value(1, "listed"))))
			b.Write(p, value(1, "listed"))
		}, ""}, // the base of this table is a value of its own
		{"the one who stayed with it", func(base *fact, a, b *line) {
			a.Write(p, value(1, "first", base))
			b.Write(p, value(1, "second", b.Write(p, value(1, "base"))))
			b.Write(p, value(1, "base"))
		}, "base"},
		{"two settled it in two ways", func(base *fact, a, b *line) {
			x, y := a.Write(p, value(1, "first", base)), b.Write(p, value(1, "second", base))
			a.Write(p, value(1, "first", x, y))
			b.Write(p, value(1, "second", x, y))
		}, ""},
		{"two settled what two had written alike", func(base *fact, a, b *line) {
			x, y := a.Write(p, value(1, "alike", base)), b.Write(p, value(1, "alike", base))
			a.Write(p, value(1, "first", x, y))
			b.Write(p, value(1, "second", x, y))
		}, "alike"},
		{"what stands elsewhere is no ancestor", func(base *fact, a, b *line) {
			other := a.Write(p, value(2, "elsewhere"))
			a.Write(p, value(1, "first", other))
			b.Write(p, value(1, "second", other))
			b.Write(p, value(1, "settled", base))
		}, ""},
	} {
		w := newWorld(1)
		a, b := w.Scout(w.Root, 1), w.Scout(w.Root, 1)
		base := a.Write(p, value(1, "base"))
		c.write(base, a, b)
		lap := all(w)
		var writes []merge.Write
		for _, f := range w.Facts {
			if f.Header.Record == p {
				writes = append(writes, merge.Write{Origin: merge.Origin{ID: f.ID, Lamport: f.Header.Lamport}, Body: f.Says})
			}
		}
		got, ok := lap.Record(p).Find(reg(1)).Ancestor(writes)
		check(t, c.name, string(got.Data), c.want)
		check(t, c.name+": found", ok, c.want != "")
	}
}

package node

import (
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/merge"
	"plumbline/sync/mesh"
)

// What a revoked laptop wrote before it heard of it comes over a third one that
// hadn't heard either. It counts nowhere until a director lets it (ledger rule 22:
// only raising replaces a cut), and what comes after that still doesn't.
func TestRule22ARaisedCutLetsCountWhatCameMeanwhile(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, c)
	b.alone()
	c.alone()
	_, err := a.Accept(t.Context(), "Tove Lund", a.aside(0).AsOf, false)
	refused(t, err, ErrInvalid)
	_, err = a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	a.alone()

	b.restart()
	c.restart()
	b.set(id, "school", "Salt Lick")
	connect(t, b, c)
	agree(t, b, c)
	b.alone()
	b.set(id, "hometown", "Low Ridge")
	a.restart()
	connect(t, a, c)
	agree(t, a, c)
	require.Empty(t, a.texts(id, "school"))
	aside := a.aside(10)
	require.Len(t, aside.Revisions, aside.Total)
	require.Equal(t, merge.SetAside, aside.Revisions[0].Status)
	require.Equal(t, "Orrin Vale", aside.Revisions[0].Title)
	require.Equal(t, "Tove Lund's laptop", aside.Revisions[0].DeviceName)
	require.Contains(t, aside.Revisions[0].Reason, "when Maren Ostrava ended the laptop's standing")
	_, err = c.Accept(t.Context(), "Tove Lund", aside.AsOf, false)
	refused(t, err, ErrRights)

	_, err = a.Accept(t.Context(), "Tove Lund", aside.AsOf, false)
	require.NoError(t, err)
	agree(t, a, c)
	require.Equal(t, []string{"Salt Lick"}, a.texts(id, "school"))
	require.Equal(t, []string{"Salt Lick"}, c.texts(id, "school"))
	require.Zero(t, a.aside(10).Total)
	_, err = a.Accept(t.Context(), "Tove Lund", aside.AsOf, false)
	refused(t, err, ErrInvalid)
	roster, err := a.Roster(t.Context())
	require.NoError(t, err)
	for _, m := range roster {
		require.Equal(t, m.Author.Name == "Tove Lund", m.Revoked, m.Author.Name)
	}
}

func (l *laptop) aside(limit int) Aside {
	l.t.Helper()
	aside, err := l.SetAside(l.t.Context(), limit)
	require.NoError(l.t, err)
	return aside
}

// What a director lets count is what they were shown of it: neither what the list
// had no room for, nor what comes over between the list and the press.
func TestRule12AcceptingCoversOnlyWhatWasListed(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c, d := join(t, a, "Ilse Brandt", false), join(t, a, "Rolf Steen", false)
	for _, l := range []*laptop{b, c, d} {
		connect(t, a, l)
	}
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, c, d)
	for _, l := range []*laptop{b, c, d} {
		l.alone()
	}
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	a.alone()
	b.set(id, "school", "Salt Lick")
	b.set(id, "hometown", "Low Ridge")
	b.carry(c)
	c.carry(a)
	drawn, first := a.aside(0), a.aside(1)
	require.Equal(t, 2, drawn.Total)

	// Another entry comes over while the list is on screen.
	b.set(id, "jersey", "71")
	b.carry(d)
	d.carry(a)
	require.Equal(t, 3, a.aside(0).Total)
	_, err = a.Accept(t.Context(), "Tove Lund", "", false)
	refused(t, err, ErrUnseen)
	_, err = a.Accept(t.Context(), "Tove Lund", a.asOf(id.String()), false)
	refused(t, err, ErrInvalid)
	for _, step := range []struct {
		asOf                 string
		school, home, jersey []string
		aside                int
	}{
		{first.AsOf, []string{"Salt Lick"}, nil, nil, 2},
		{drawn.AsOf, []string{"Salt Lick"}, []string{"Low Ridge"}, nil, 1},
		{a.aside(0).AsOf, []string{"Salt Lick"}, []string{"Low Ridge"}, []string{"71"}, 0},
	} {
		_, err = a.Accept(t.Context(), "Tove Lund", step.asOf, false)
		require.NoError(t, err)
		require.Equal(t, step.school, a.texts(id, "school"))
		require.Equal(t, step.home, a.texts(id, "hometown"))
		require.Equal(t, step.jersey, a.texts(id, "jersey"))
		require.Equal(t, step.aside, a.aside(0).Total)
	}
}

// carry lets two laptops meet, and stops both of them again.
func (l *laptop) carry(to *laptop) {
	l.t.Helper()
	l.restart()
	to.restart()
	connect(l.t, l, to)
	l.alone()
	to.alone()
}

// A record of which nothing counts has no name: the list of what doesn't count
// calls it by the name that stands in that list.
func TestWhatDoesntCountIsCalledByTheNameThatItGives(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	agree(t, a, b, c)
	b.alone()
	c.alone()
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	a.alone()
	b.restart()
	c.restart()
	who := b.add("prospect", "name", "Wes Tarn")
	b.add("note", "prospect", who.String(), "text", "Late hands.")
	connect(t, b, c)
	agree(t, b, c)
	b.alone()
	a.restart()
	connect(t, a, c)
	agree(t, a, c)
	aside := a.aside(10).Revisions
	require.Len(t, aside, 2)
	require.Equal(t, "Wes Tarn", aside[0].Title)
	require.Contains(t, aside[1].Fields, RevisedField{Name: "prospect", Text: "Wes Tarn"})
}

// A prospect of whom nothing counts is called by the name that was given to it,
// where something refers to it; a text that only looks like its id stays as it is.
func TestNoTextIsTakenForAnID(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	agree(t, a, b, c)
	for _, l := range []*laptop{a, b, c} {
		l.alone()
	}
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	id := b.add("prospect", "name", "Orrin Vale")
	b.add("note", "prospect", id.String(), "text", shortID(id))
	b.restart()
	c.restart()
	connect(t, b, c) // neither has heard of it
	agree(t, b, c)
	b.alone()
	a.restart()
	connect(t, a, c)
	agree(t, a, c)
	aside := a.aside(10)
	texts := map[string]string{}
	for _, rev := range aside.Revisions {
		for _, f := range rev.Fields {
			texts[kindName(rev.Record)+" "+f.Name] = f.Text
		}
	}
	require.Equal(t, shortID(id), texts["note text"])
	require.Equal(t, "Orrin Vale", texts["note prospect"])
}

// A revoked laptop that is invited again keeps its key, and goes on under a new
// certificate, whose grant names the cut (ledger rule 22): what it wrote before counts,
// and what it writes since, in new logs (rule 1). What came in between is set aside as
// before. A copy of its disk has the same key and shows the old certificate, which
// stays cut.
func TestRule22ARevokedLaptopThatIsInvitedAgainKeepsItsKey(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	connect(t, a, b)
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	key := b.public()
	links := b.cfg.Links
	b.alone()
	copied := b.cutOff()
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	b.set(id, "school", "Salt Lick")
	b.restart()
	pair(t, a, b, "Tove Lund", false)
	require.Equal(t, key, b.public())
	connect(t, a, b)
	b.set(id, "hometown", "Low Ridge")
	agree(t, a, b)
	for _, l := range []*laptop{a, b} {
		require.Equal(t, []string{"Orrin Vale"}, l.texts(id, "name"))
		require.Equal(t, []string{"Low Ridge"}, l.texts(id, "hometown"))
		require.Empty(t, l.texts(id, "school"))
	}
	require.Equal(t, 1, a.aside(10).Total)

	b.alone()
	copied.cfg.Links = links
	copied.Node = open(t, copied.cfg)
	err = copied.Connect(t.Context(), a.mesh.Address().String())
	require.ErrorContains(t, err, mesh.ErrRefused.Error())
	copied.stopNow()

	_, err = a.Accept(t.Context(), "Tove Lund", a.aside(10).AsOf, false)
	require.NoError(t, err)
	b.restart()
	connect(t, a, b)
	require.Equal(t, []string{"Salt Lick"}, b.texts(id, "school"))
	b.set(id, "jersey", "71")
	agree(t, a, b)
	require.Equal(t, []string{"71"}, a.texts(id, "jersey"), "a raised cut doesn't bind it either")
}

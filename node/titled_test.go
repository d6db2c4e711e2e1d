package node

import (
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// What a list prints as a record's title finds it: people type what they read.
func TestEveryKindIsFoundByTheTitleThatListsPrint(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Vale, Orrin", "school", "Salt Lick")
	another := a.add("prospect", "name", "Vale", "school", "Low Ridge")
	game := a.add("game", "date", "2026-09-05", "home", "North Fork", "away", "Pine Gap")
	a.add("game", "date", "2026-10-03", "home", "North Fork", "away", "Pine Gap")
	look := a.add("look", "prospect", who.String(), "game", "Pine Gap at North Fork, 2026-09-05", "mode", "film")
	a.add("look", "prospect", another.String(), "game", game.String(), "mode", "film")
	evaluation := a.add("evaluation", "prospect", who.String(), "overall", "6")
	for _, id := range []entry.RecordID{
		who, game, look, evaluation,
		a.add("rep", "look", look.String(), "number", "12"),
		a.add("measurement", "prospect", who.String(), "what", "arm", "reading", "334 verified"),
		a.add("claim", "evaluation", evaluation.String(), "kind", "concern", "text", "Late hands, high pads"),
		a.add("note", "prospect", who.String(), "text", "Works, then rests."),
		a.add("flag", "prospect", who.String(), "about", "medical", "ask", "Maren Ostrava"),
		a.add("assignment", "prospect", who.String(), "person", "Maren Ostrava", "due", "2026-11-01"),
	} {
		for _, kind := range []entry.Kind{0, id.Kind()} {
			g, err := a.reader(t.Context()).find(kind, a.title(id))
			require.NoError(t, err, a.title(id))
			require.Equal(t, id, g.leader, a.title(id))
		}
		_, err := a.reader(t.Context()).find(0, a.title(id)+"x")
		refused(t, err, ErrNotFound)
	}
	a.retire(game.String())
	g, err := a.reader(t.Context()).find(0, "pine gap at north fork, 2026-09-05")
	require.NoError(t, err, "a list of what was retired prints titles, too")
	require.Equal(t, game, g.leader)
}

// A title that several have is refused with what tells them apart.
func TestATitleOfSeveralIsRefused(t *testing.T) {
	a := found(t)
	one := a.add("game", "date", "2026-09-05", "home", "North Fork", "away", "Pine Gap", "week", "1")
	two := a.add("game", "date", "2026-09-05", "home", "North Fork", "away", "Pine Gap", "note", "the second string's game")
	_, err := a.Write(t.Context(), []Write{{Kind: "look", Sets: sets([]string{"prospect", a.add("prospect", "name", "Orrin Vale").String(), "game", a.title(one), "mode", "film"})}})
	refused(t, err, ErrAmbiguous)
	for _, told := range append(ShortIDs(one.String(), two.String()), "2026-09-05, week 1", "2026-09-05, the second string's game") {
		require.ErrorContains(t, err, told)
	}
	who := a.add("prospect", "name", "Pim Rask")
	for _, overall := range []string{"5", "6"} {
		a.add("evaluation", "prospect", who.String(), "overall", overall)
	}
	_, err = a.File(t.Context(), "Pim Rask, evaluated by Maren Ostrava")
	refused(t, err, ErrAmbiguous)
	require.ErrorContains(t, err, "Pim Rask, evaluated by Maren Ostrava, overall 5")
}

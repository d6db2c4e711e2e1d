package node

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// On 2026-11-26 nobody has measured or filed anything in 2090, and no schedule goes
// that far (common practice, no source). A day or two may be a clock's.
func TestDatesStillToComeAreRefused(t *testing.T) {
	a := found(t)
	now := time.Date(2026, 11, 26, 9, 0, 0, 0, time.Local)
	a.cfg.Now = func() time.Time { return now }
	a.restart()
	who := a.add("prospect", "name", "Rusk Adair", "school", "Low Ridge", "class_year", "2027").String()
	weight := a.add("measurement", "prospect", who, "reading", "weight 265 verified 2026-11-28")
	game := a.add("game", "date", "2028-11-26", "home", "Low Ridge", "away", "Salt Lick")
	before := a.entries()
	for name, c := range map[string]struct {
		write Write
		at    string
	}{
		"measured":         {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "weight", "reading", "240 verified 2090-01-01"})}, "reading"},
		"measured in days": {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "weight", "reading", "240 verified 2026-11-30"})}, "reading"},
		"measurement set":  {Write{Record: weight.String(), Sets: []Set{{Field: "reading", Text: "240 verified 2090-01-01", Seen: a.shown(weight, "reading")}}}, "reading"},
		"filed":            {Write{Kind: "evaluation", Sets: sets([]string{"prospect", who, "overall", "6", "filed", "2031-02-01"})}, "filed"},
		"played":           {Write{Kind: "game", Sets: sets([]string{"date", "2028-11-27", "home", "Low Ridge", "away", "Salt Lick"})}, "date"},
		"game set":         {Write{Record: game.String(), Sets: []Set{{Field: "date", Text: "2062-10-03", Seen: a.shown(game, "date")}}}, "date"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := a.Write(t.Context(), []Write{c.write})
			refused(t, err, ErrInvalid)
			require.ErrorContains(t, err, "this laptop's, which is 2026-11-26; correct it")
			require.Contains(t, byField(t, a, c.write)[c.at].Wrong, "2026-11-26")
		})
	}
	const head = "name,school,class_year,"
	for kind, table := range map[string]string{
		"prospect":   head + "weight,source,date\nRusk Adair,Low Ridge,2027,240,verified,2090-01-01\n",
		"evaluation": head + "overall,filed\nRusk Adair,Low Ridge,2027,6,2031-02-01\n",
		"game":       "date,home,away\n2062-10-03,Low Ridge,Salt Lick\n",
		"rep":        head + "number,date,home,away\nRusk Adair,Low Ridge,2027,1,2062-10-03,Low Ridge,Salt Lick\n",
	} {
		report, err := a.Import(t.Context(), ImportRequest{Kind: kind, Data: []byte(table), Namesakes: MatchNamesakes})
		require.NoError(t, err)
		require.NotEmpty(t, report.Errors, kind)
		require.Contains(t, []string{"date", "filed"}, report.Errors[0].Column)
		require.Contains(t, report.Errors[0].Rule, "this laptop's, which is 2026-11-26")
	}
	require.Equal(t, before, a.entries())

	// The same clock earlier, as one may be that ran out: what stands stays, and is no change.
	now = now.AddDate(-40, 0, 0)
	require.Equal(t, []string{"265, verified, 2026-11-28"}, a.texts(weight, "reading"))
	a.set(weight, "reading", "265 verified 2026-11-28")
	require.Equal(t, before, a.entries())
}

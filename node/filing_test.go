package node

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Wherever the day of filing is written, an evaluation has its overall grade: what is
// filed is a judgement (common practice, no source).
func TestNothingIsFiledWithoutAnOverallGrade(t *testing.T) {
	a := found(t)
	a.load("prospect", "name,school,class_year\nRusk Adair,Low Ridge,2027\n")
	open := a.add("evaluation", "prospect", "Rusk Adair", "summary", "Quiet feet.")
	before := a.entries()
	added := Write{Kind: "evaluation", Sets: sets([]string{"prospect", "Rusk Adair", "filed", "2026-03-01"})}
	changed := Write{Record: open.String(), Sets: sets([]string{"filed", "2026-03-01"})}
	for name, write := range map[string]Write{"added": added, "changed": changed} {
		_, err := a.Write(t.Context(), []Write{write})
		refused(t, err, ErrInvalid)
		require.ErrorContains(t, err, "no overall grade", name)
		require.Contains(t, byField(t, a, write)["filed"].Wrong, "no overall grade", name)
	}
	_, err := a.File(t.Context(), open.String())
	require.ErrorContains(t, err, "no overall grade")
	table := func(rows string) ImportReport {
		report, err := a.Import(t.Context(), ImportRequest{Kind: "evaluation", Data: []byte("name,school,class_year,overall,filed\nRusk Adair,Low Ridge,2027," + rows + "\n")})
		require.NoError(t, err)
		return report
	}
	report := table(",2026-03-01")
	require.Len(t, report.Errors, 1)
	require.Equal(t, "filed", report.Errors[0].Column)
	require.Contains(t, report.Errors[0].Rule, "no overall grade")
	require.Equal(t, before, a.entries())

	graded := sets([]string{"filed", "2026-03-01", "overall", "6"})
	_, err = a.Write(t.Context(), []Write{{Record: open.String(), Sets: graded}})
	require.NoError(t, err)
	require.Equal(t, []string{"2026-03-01"}, a.texts(open, "filed"))
	a.add("evaluation", "prospect", "Rusk Adair", "filed", "2026-03-01", "overall", "5")
	require.Empty(t, table("7,2026-03-01").Errors)
}

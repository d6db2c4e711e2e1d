package record

import (
	"strings"
	"testing"
)

// What days in other forms may mean. 03/04 is the third of April in one country and
// the fourth of March in another (ISO 8601 was made for this; both are common practice).
func TestADayInAnotherFormIsRefusedWithWhatItMayMean(t *testing.T) {
	for typed, says := range map[string]string{
		"03/04/2026":     "this may be 2026-04-03 or 2026-03-04, as some write the day first",
		"3.4.2026":       "this may be 2026-04-03 or 2026-03-04,",
		"3-4-26":         "this may be 2026-04-03 or 2026-03-04,",
		"02-03-04":       "this may be 2004-03-02, 2004-02-03 or 2002-03-04,",
		"13/04/2026":     "if this is 2026-04-13, type that",
		"04/13/2026":     "if this is 2026-04-13, type that",
		"04/04/2026":     "if this is 2026-04-04, type that",
		"2026/03/04":     "if this is 2026-03-04, type that",
		"2026-3-4":       "if this is 2026-03-04, type that",
		"20260304":       "if this is 2026-03-04, type that",
		"March 4, 2026":  "if this is 2026-03-04, type that",
		"4 mar 2026":     "if this is 2026-03-04, type that",
		"4-Mar-2026":     "if this is 2026-03-04, type that",
		"2026-02-30":     notADay,
		"30/02/2026":     notADay,
		"13/13/2026":     notADay,
		"yesterday":      notADay,
		"March":          notADay,
		"2026-10-14T0:0": notADay,
	} {
		_, err := Must(Game, "date").Parse(typed)
		if err == nil || !strings.Contains(err.Error(), says) || !strings.Contains(err.Error(), "YYYY-MM-DD") {
			t.Errorf("%q: got %v, want %q", typed, err, says)
		}
	}
	if _, err := Must(Measurement, "reading").Parse("arm 334 03/04/2026 verified"); err == nil || !strings.Contains(err.Error(), "2026-04-03 or 2026-03-04") {
		t.Errorf("in a measurement: got %v", err)
	}
	if _, err := Must(Measurement, "reading").Parse("height 6-4 3/4 verified 2026-03-04"); err != nil {
		t.Error(err)
	}
}

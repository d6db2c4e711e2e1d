package node

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

// A reading of something else than the field what says is refused wherever it is
// typed, and both are named. 36 inches are no height, and 6046 is no weight: common
// practice, no source.
func TestAReadingOfAnotherMeasurementIsRefused(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Rusk Adair").String()
	height := a.add("measurement", "prospect", who, "what", "height", "reading", "6046 verified 2026-03-01")
	before := a.entries()
	raw := func(text string) any {
		var v any
		require.NoError(t, json.Unmarshal([]byte(text), &v))
		return v
	}
	eighths := raw(`{"amount": 614, "unit": "eighth_inch", "source": "verified"}`)
	for name, c := range map[string]struct {
		write Write
		at    string
		says  []string
	}{
		"vertical for a height": {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "height", "reading", "vertical 36 listed 2026-01-01"})}, "reading", []string{"vertical", "height"}},
		"height for a weight":   {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "wt", "reading", "height 6046 verified 2026-03-01"})}, "reading", []string{"height", "weight"}},
		"same unit, same range": {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "wingspan", "reading", "height 76 in verified"})}, "reading", []string{"height", "wingspan"}},
		"a name of two words":   {Write{Kind: "measurement", Sets: sets([]string{"prospect", who, "what", "vertical", "reading", "broad jump 9'4\" verified"})}, "reading", []string{"broad jump", "vertical"}},
		"as JSON":               {Write{Kind: "measurement", Sets: append(sets([]string{"prospect", who, "what", "weight"}), Set{Field: "reading", JSON: eighths})}, "reading", []string{"614 eighths of an inch", "weight"}},
		"changed by name":       {Write{Record: height.String(), Sets: []Set{{Field: "reading", Text: "arm 334 verified", Seen: a.shown(height, "reading")}}}, "reading", []string{"arm", "height"}},
		"changed under it":      {Write{Record: height.String(), Sets: []Set{{Field: "what", Text: "weight", Seen: a.shown(height, "what")}}}, "what", []string{"6046", "weight"}},
	} {
		t.Run(name, func(t *testing.T) {
			checked := byField(t, a, c.write)
			_, err := a.Write(t.Context(), []Write{c.write})
			refused(t, err, ErrInvalid)
			for _, word := range c.says {
				require.ErrorContains(t, err, word)
				require.Contains(t, checked[c.at].Wrong, word)
			}
		})
	}
	require.Equal(t, before, a.entries())
}

// What names the same, or doesn't name it, is read as ever: 40 is a name of the forty
// and of a jump's inches.
func TestAReadingIsReadByWhatWasMeasured(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Rusk Adair").String()
	for _, c := range []struct{ what, reading, wantWhat, want string }{
		{"height", "height 6046 verified", "height", "6046, verified"},
		{"ht", "6'4 3/4\" verified", "height", "6046, verified"},
		{"vertical", "40 listed", "vertical", "40, listed"},
		{"vertical", "40 1/2 listed", "vertical", "40 1/2, listed"},
		{"broad jump", "112 listed", "broad_jump", "9'4\", listed"},
		{"", "broad jump 112 listed", "broad_jump", "9'4\", listed"},
		{"", "40 4.98 hand verified", "forty", "4.98, hand, verified"},
		{"", "40 yard dash 4.98 verified", "forty", "4.98, verified"},
	} {
		fields := []string{"prospect", who, "reading", c.reading}
		if c.what != "" {
			fields = append(fields, "what", c.what)
		}
		require.Equal(t, c.want, byField(t, a, Write{Kind: "measurement", Sets: sets(fields)})["reading"].Text, "%q %q", c.what, c.reading)
		id := a.add("measurement", fields...)
		require.Equal(t, []string{c.wantWhat}, a.texts(id, "what"))
		require.Equal(t, []string{c.want}, a.texts(id, "reading"))
	}
	id := a.add("measurement", "prospect", who, "reading", "arm 334 verified")
	a.set(id, "reading", "340 verified")
	require.Equal(t, []string{"340, verified"}, a.texts(id, "reading"), "the record says what")
}

// Earlier programs kept such readings. They are told everywhere, and no list counts
// them as what they aren't.
func TestAReadingThatIsNoneStaysInSightAndCountsForNothing(t *testing.T) {
	a := found(t)
	who := a.add("prospect", "name", "Rusk Adair")
	a.add("measurement", "prospect", who.String(), "what", "weight", "reading", "265 listed 2026-01-01")
	wrong := a.misread(who, "weight", "height 6046 verified 2026-03-01")
	tall := a.misread(who, "height", "vertical 36 listed 2026-01-01")

	require.Equal(t, []string{"6046 (no weight), verified, 2026-03-01"}, a.texts(wrong, "reading"))
	require.Equal(t, []string{"36 (no height), listed, 2026-01-01"}, a.texts(tall, "reading"))
	require.Equal(t, "Rusk Adair, height 36 (no height), listed, 2026-01-01", a.title(tall))
	require.Equal(t, 265.0, a.cell(who.String(), "weight"))
	require.Nil(t, a.cell(who.String(), "height"))
	require.Contains(t, string(a.exported("prospect", "name", "weight", "height")), "Rusk Adair,265,\r\n")
	require.Contains(t, string(a.exported("measurement")), "6046 (no weight), verified, 2026-03-01")
	before := a.entries()
	require.Empty(t, a.load("measurement", string(a.exported("measurement"))).Errors)
	require.Equal(t, before, a.entries(), "what is stored comes back from its own list")
	a.set(wrong, "reading", "271 verified 2026-03-01")
	require.Equal(t, 271.0, a.cell(who.String(), "weight"))
}

// misread stores a reading of something else than what says, as programs before this
// rule did.
func (l *laptop) misread(who entry.RecordID, what, reading string) entry.RecordID {
	l.t.Helper()
	id := l.add("measurement", "prospect", who.String(), "reading", reading)
	reg := record.Must(record.Measurement, "what")
	v, err := reg.Parse(what)
	require.NoError(l.t, err)
	replaced, err := entry.ParseID(l.shown(id, "what")[0])
	require.NoError(l.t, err)
	require.NoError(l.t, l.step(Save{Drafts: []Draft{{Record: id, Body: entry.Body{Kind: entry.KindChanges, Changes: []entry.Change{
		{Register: reg.Address(), Op: v.Op, Value: v.Bytes, Replaces: []entry.ID{replaced}},
	}}}}}).Err)
	return id
}

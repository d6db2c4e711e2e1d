package node

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// An abbreviated id names one value, never whatever stands there by now.
func TestAShortIDNamesOneValueOnly(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	old := a.field(id, "school").Values[0].ID.String()
	a.set(id, "school", "Harbor Point")
	for typed, reason := range map[string]error{"": ErrInvalid, "!": ErrInvalid, old[:1]: ErrAmbiguous, old[:26]: ErrAmbiguous, old[:27]: ErrAmbiguous} {
		_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: []string{typed}}}}})
		refused(t, err, reason)
	}
	// Where one value alone begins so, it is still too little: its author may have
	// written there since it was read.
	only := a.field(id, "name").Values[0].ID.String()
	_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "name", Text: "Orrin Vail", Seen: []string{only[:26]}}}}})
	refused(t, err, ErrInvalid)
	require.ErrorContains(t, err, only+"  Orrin Vale")
	other := a.field(id, "name").Values[0].ID.String()
	a.set(id, "name", "Orrin Vail")
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "jersey", Text: "71", Seen: []string{a.field(id, "name").Values[0].ID.String()}}}}})
	refused(t, err, ErrInvalid)
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "position", Text: "tackle", Seen: []string{other}}}}})
	refused(t, err, ErrInvalid)
	now := a.field(id, "school").Values[0].ID.String()
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: []string{now[:len(now)-12]}}}}})
	require.NoError(t, err)
	require.Equal(t, []string{"Pine Bluffs"}, a.texts(id, "school"))
	// The number tells the entries of a log apart: 2 isn't 20.
	now = a.field(id, "school").Values[0].ID.String()
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Low Ridge", Seen: []string{now[:strings.LastIndexByte(now, '.')]}}}}})
	require.NoError(t, err)
	require.Equal(t, []string{"Low Ridge"}, a.texts(id, "school"))
}

// The start of an id that settle takes is the one that set takes. Two laptops' values
// begin differently; a letter is still an accident.
func TestSettlingOnTheStartOfAnID(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "school", "Salt Lick")
	old := a.shown(id, "school")
	a.set(id, "school", "Harbor Point")
	_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: old}}}})
	require.NoError(t, err)
	choice := a.field(id, "school").Values[0]
	settle := func(typed string) error {
		_, err := a.Settle(t.Context(), Settlement{Record: id.String(), Set: Set{Field: "school", Seen: a.shown(id, "school")}, Choose: typed})
		return err
	}
	full := choice.ID.String()
	refused(t, settle(full[:4]), ErrAmbiguous)
	require.ErrorContains(t, settle(full[:4]), full+"  "+choice.Text)
	require.NoError(t, settle(full[:strings.LastIndexByte(full, '.')]))
	require.Equal(t, []string{choice.Text}, a.texts(id, "school"))
}

// Both branches of a log that a copied disk went on with hold an entry of one number.
func TestANumberOfTwoEntriesNamesNeither(t *testing.T) {
	written := []WrittenValue{{"aaaa.2.abcd", "71"}, {"aaaa.2.bcde", "75"}, {"aaaa.21.cdef", "77"}}
	_, err := MeantValue("aaaa.2", written)
	refused(t, err, ErrAmbiguous)
	_, err = MeantValue("aaaa.2.", written)
	refused(t, err, ErrAmbiguous)
	meant, err := MeantValue("aaaa.2.b", written)
	require.NoError(t, err)
	require.Equal(t, "aaaa.2.bcde", meant)
	meant, err = MeantValue("AAAA.21", written)
	require.NoError(t, err)
	require.Equal(t, "aaaa.21.cdef", meant)
	meant, err = MeantValue("bbbb", written)
	require.NoError(t, err)
	require.Empty(t, meant)
}

// The answer to a retry that comes late is that of the first attempt, whatever
// others have written since.
func TestALateRetryIsAnsweredAndWritesNothing(t *testing.T) {
	a := found(t)
	w := []Write{{Kind: "prospect", NewID: "aaaaaaaaaaaaaaaaaaaaaaaaae", Sets: sets([]string{"name", "Orrin Vale", "school", "Salt Lick"})}}
	ids, err := a.Write(t.Context(), w)
	require.NoError(t, err)
	a.set(ids[0], "school", "Harbor Point")
	again, err := a.Write(t.Context(), w)
	require.NoError(t, err)
	require.Equal(t, ids, again)
	require.Equal(t, []string{"Harbor Point"}, a.texts(ids[0], "school"))
	// Another value under the same new id is no retry, and nothing is dropped unsaid.
	w[0].Sets[1].Text = "Pine Bluffs"
	_, err = a.Write(t.Context(), w)
	refused(t, err, ErrUnseen)
}

func TestAFieldIsWrittenOnceAtATime(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale")
	_, err := a.Write(t.Context(), []Write{
		{Record: id.String(), Sets: sets([]string{"school", "Salt Lick"})},
		{Record: id.String(), Sets: sets([]string{"school", "Harbor Point"})},
	})
	refused(t, err, ErrInvalid)
	_, err = a.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Pim Rask", "name", "Pim Raske"})}})
	refused(t, err, ErrInvalid)
}

// Settling a joined field leaves the answer with each of the records, for the
// day on which somebody takes them apart.
func TestSettlingWritesIntoEveryRecordOfAGroup(t *testing.T) {
	a := found(t)
	var ids []entry.RecordID
	for _, school := range []string{"Salt Lick", "Harbor Point", ""} {
		fields := []string{"name", "Orrin Vale"}
		if school != "" {
			fields = append(fields, "school", school)
		}
		ids = append(ids, a.add("prospect", fields...))
	}
	for _, other := range ids[1:] {
		_, err := a.Same(t.Context(), ids[0].String(), other.String(), false)
		require.NoError(t, err)
	}
	a.settle(ids[1], "school", "Pine Bluffs")
	for i := range ids {
		for j := range i {
			a.same(ids[i], ids[j], true)
		}
	}
	l, err := a.List(t.Context(), ListQuery{Where: `school == "Pine Bluffs"`})
	require.NoError(t, err)
	require.Len(t, l.Rows, 3)
}

// Whoever was demoted is told, before something is taken from them that counts
// nowhere.
func TestADemotedLaptopIsToldWhatItMayNotWrite(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	connect(t, a, b)
	b.add("factor", "name", "hand_use")
	agree(t, a, b)
	_, err := a.Revoke(t.Context(), "Tove Lund", true)
	require.NoError(t, err)
	agree(t, a, b)
	_, err = b.Write(t.Context(), []Write{{Kind: "factor", Sets: sets([]string{"name", "anchor"})}})
	refused(t, err, ErrRights)
	id := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	require.Equal(t, []string{"Orrin Vale"}, a.texts(id, "name"))
	s, err := b.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, "scout", s.Role.String())
	_, err = a.Promote(t.Context(), "Tove Lund")
	require.NoError(t, err)
	agree(t, a, b)
	b.add("factor", "name", "anchor")
	_, err = a.Promote(t.Context(), "Tove Lund")
	refused(t, err, ErrInvalid)
}

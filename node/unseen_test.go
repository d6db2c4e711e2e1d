package node

import (
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
	for _, typed := range []string{"", "a", old[:26], old[:27]} {
		_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: []string{typed}}}}})
		refused(t, err, ErrInvalid)
	}
	other := a.field(id, "name").Values[0].ID.String()
	a.set(id, "name", "Orrin Vail")
	_, err := a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "jersey", Text: "71", Seen: []string{a.field(id, "name").Values[0].ID.String()}}}}})
	refused(t, err, ErrInvalid)
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "position", Text: "tackle", Seen: []string{other}}}}})
	refused(t, err, ErrInvalid)
	now := a.field(id, "school").Values[0].ID.String()
	_, err = a.Write(t.Context(), []Write{{Record: id.String(), Sets: []Set{{Field: "school", Text: "Pine Bluffs", Seen: []string{now[:len(now)-12]}}}}})
	require.NoError(t, err)
	require.Equal(t, []string{"Pine Bluffs"}, a.texts(id, "school"))
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

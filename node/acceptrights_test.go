package node

import (
	"crypto/ed25519"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// far is a staff whose second director was away when they were revoked: they wrote,
// made a scout a director and ended the standing of another one. It came to a third.
type far struct{ maren, tobin, wen, rolf *laptop }

func farAway(t *testing.T) far {
	t.Helper()
	f := far{maren: found(t)}
	f.tobin = join(t, f.maren, "Tobin Ash", true)
	f.wen, f.rolf = join(t, f.tobin, "Wen Talbot", false), join(t, f.maren, "Rolf Steen", false)
	ilse := join(t, f.tobin, "Ilse Brandt", false)
	all := []*laptop{f.maren, f.tobin, f.wen, f.rolf, ilse}
	for _, l := range all[1:] {
		connect(t, f.maren, l)
	}
	agree(t, all...)
	for _, l := range all[1:] {
		l.alone()
	}
	_, err := f.maren.Revoke(t.Context(), "Tobin Ash", false)
	require.NoError(t, err)
	f.maren.alone()
	f.tobin.add("prospect", "name", "Orrin Vale")
	_, err = f.tobin.Promote(t.Context(), "Wen Talbot")
	require.NoError(t, err)
	_, err = f.tobin.Revoke(t.Context(), "Ilse Brandt", false)
	require.NoError(t, err)
	f.tobin.carry(f.rolf)
	return f
}

func (l *laptop) roles() map[string]string {
	l.t.Helper()
	roster, err := l.Roster(l.t.Context())
	require.NoError(l.t, err)
	roles := map[string]string{}
	for _, m := range roster {
		roles[m.Author.Name] = m.Role.String()
		if m.Revoked {
			roles[m.Author.Name] = "revoked"
		}
	}
	return roles
}

// A control entry that doesn't count is listed with what it did, by name. To accept a
// laptop's work hands out nothing: what decides who may what stays set aside until it
// is asked for, and is told before.
func TestAcceptingWorkHandsOutNoRights(t *testing.T) {
	f := farAway(t)
	f.rolf.carry(f.maren)
	a := f.maren
	require.Equal(t, []string{
		"Tobin Ash changed the key that links are opened with",
		"Tobin Ash ended the standing of Ilse Brandt's laptop", "Tobin Ash gave Wen Talbot's laptop a director's rights",
	}, a.said())
	before, asOf := a.roles(), a.aside(0).AsOf
	want := []string{
		"Wen Talbot's laptop gets a director's rights", "the key that links are opened with changes", "the standing of Ilse Brandt's laptop ends",
	}
	sorted := func(a Acceptance) Acceptance { slices.Sort(a.Rights); return a }

	would, err := a.Acceptable(t.Context(), "Tobin Ash", asOf, false)
	require.NoError(t, err)
	require.Equal(t, want, sorted(would).Rights)
	did, err := a.Accept(t.Context(), "Tobin Ash", asOf, false)
	require.NoError(t, err)
	require.Equal(t, would, sorted(did))
	require.Len(t, did.Devices, 1)
	require.Equal(t, before, a.roles())
	require.Equal(t, "scout", before["Wen Talbot"])
	l, err := a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Len(t, l.Rows, 1, "the work counts")

	// Nothing but that is left.
	asOf = a.aside(0).AsOf
	_, err = a.Accept(t.Context(), "Tobin Ash", asOf, false)
	refused(t, err, ErrUnasked)
	require.ErrorContains(t, err, want[0])
	would, err = a.Acceptable(t.Context(), "Tobin Ash", asOf, false)
	require.NoError(t, err)
	require.Equal(t, Acceptance{Rights: want}, sorted(would))
	did, err = a.Accept(t.Context(), "Tobin Ash", asOf, true)
	require.NoError(t, err)
	require.Equal(t, want, sorted(did).Rights)
	require.Equal(t, "director", a.roles()["Wen Talbot"])
	require.Equal(t, "revoked", a.roles()["Ilse Brandt"])
	require.Equal(t, "revoked", a.roles()["Tobin Ash"])
	require.Zero(t, a.aside(0).Total)
}

// Whoever comes by rights with what is accepted used them perhaps: that comes into
// force too, is told beforehand, and is what comes of it then (ledger rule 22: what
// counts follows from the control entries alone).
func TestWhatFollowsFromRightsIsToldBeforehand(t *testing.T) {
	f := farAway(t)
	f.tobin.carry(f.wen)
	f.wen.restart()
	nell := join(t, f.wen, "Nell Varr", false)
	nell.alone()
	f.wen.alone()
	f.wen.carry(f.rolf)
	f.rolf.carry(f.maren)
	a := f.maren
	asOf := a.aside(0).AsOf
	require.Regexp(t, `Wen Talbot let in .*\(somebody new, called Nell Varr there\), with a scout's rights`, a.said())

	would, err := a.Acceptable(t.Context(), "Tobin Ash", asOf, true)
	require.NoError(t, err)
	require.Len(t, would.Rights, 4)
	require.Subset(t, would.Rights, []string{"Wen Talbot's laptop gets a director's rights", "the standing of Ilse Brandt's laptop ends"})
	// Nobody who counts has named the newcomer.
	require.Regexp(t, `\(somebody new, called Nell Varr there\) is let in, with a scout's rights`, would.Rights)
	before := a.roles()
	require.NotContains(t, before, "Nell Varr")
	_, err = a.Accept(t.Context(), "Tobin Ash", asOf, true)
	require.NoError(t, err)
	before["Nell Varr"], before["Wen Talbot"], before["Ilse Brandt"] = "scout", "director", "revoked"
	require.Equal(t, before, a.roles())
}

// said is what each entry did that doesn't count and stands on no record, once each.
func (l *laptop) said() (said []string) {
	l.t.Helper()
	for _, rev := range l.aside(0).Revisions {
		if rev.Record == "" {
			said = append(said, rev.Author.Name+" "+rev.Says)
		}
	}
	slices.Sort(said)
	return slices.Compact(said)
}

// Every kind of control entry has its words, and so has what it comes to.
func TestEachControlEntrySaysWhatItDid(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tobin Ash", true)
	wen := join(t, b, "Wen Talbot", false)
	connect(t, a, b)
	orrin := a.add("prospect", "name", "Orrin Vale")
	agree(t, a, b)
	b.alone()
	a.alone()
	_, err := a.Revoke(t.Context(), "Tobin Ash", false)
	require.NoError(t, err)
	_, err = b.Revoke(t.Context(), "Wen Talbot", true)
	require.NoError(t, err)
	_, err = b.Promote(t.Context(), "Wen Talbot")
	require.NoError(t, err)
	_, err = b.Revoke(t.Context(), "Wen Talbot", false)
	require.NoError(t, err)
	stranger, _, err := ed25519.GenerateKey(b.cfg.Random)
	require.NoError(t, err)
	_, own, err := b.standing()
	require.NoError(t, err)
	cert, err := b.newCertificate(grantedBy(own, entry.Certificate{Role: entry.RoleScout, Device: stranger}))
	require.NoError(t, err)
	require.NoError(t, b.save(
		Draft{Body: grant(cert, nil)},
		Draft{Body: grant(cert, cutsOf(b.store.Verdict(), entry.DeviceOf(wen.public())))},
		Draft{Body: entry.Body{Kind: entry.KindErasure, Erasure: &entry.Erasure{Records: []entry.RecordID{orrin}}}},
	))
	b.restart()
	a.restart()
	pair(t, a, b, "Tobin Ash", true) // by which its logs come over
	connect(t, a, b)
	says := a.said()
	for _, want := range []string{
		"Tobin Ash left Wen Talbot's laptop a scout's rights only", "Tobin Ash gave Wen Talbot's laptop a director's rights", "Tobin Ash ended the standing of Wen Talbot's laptop",
		"Tobin Ash changed the key that links are opened with", "Tobin Ash erased all of Orrin Vale, later changes included",
	} {
		require.Contains(t, says, want)
	}
	require.Regexp(t, `let in .*laptop \w{8}.*, with a scout's rights`, says)
	require.Regexp(t, `let in .*laptop \w{8}.* again, with a scout's rights`, says)
	would, err := a.Acceptable(t.Context(), "Tobin Ash", a.aside(0).AsOf, false)
	require.NoError(t, err)
	require.Empty(t, would.Devices)
	require.Contains(t, would.Rights, "the standing of Wen Talbot's laptop ends")
	require.Contains(t, would.Rights, "what was written to Orrin Vale is erased, in part or all of it")
	_, err = a.Accept(t.Context(), "Tobin Ash", a.aside(0).AsOf, true)
	require.NoError(t, err)
	require.Equal(t, "revoked", a.roles()["Wen Talbot"])
	l, err := a.List(t.Context(), ListQuery{})
	require.NoError(t, err)
	require.Empty(t, l.Rows)
}

// A person who ended somebody's standing on two laptops is no two people.
func TestWhoEndedAStandingIsNamedByLaptopWhereTheyAreSeveral(t *testing.T) {
	a := found(t)
	b, c := join(t, a, "Hela Marsh", true), newLaptop(t, "Hela Marsh")
	pair(t, a, c, "Hela Marsh", true)
	d := join(t, b, "Ansel Reed", false)
	for _, l := range []*laptop{b, c, d} {
		connect(t, a, l)
	}
	agree(t, a, b, c, d)
	for _, l := range []*laptop{b, c, d} {
		l.alone()
	}
	a.alone()
	for _, l := range []*laptop{b, c} {
		_, err := l.Revoke(t.Context(), "Ansel Reed", false)
		require.NoError(t, err)
	}
	d.add("prospect", "name", "Orrin Vale")
	d.carry(a)
	b.carry(a)
	require.Contains(t, a.aside(0).Revisions[0].Reason, "when Hela Marsh ended")
	for _, l := range []*laptop{b, c} {
		name := "Hela Marsh's laptop " + map[*laptop]string{b: "north", c: "south"}[l]
		status, err := l.Status(t.Context())
		require.NoError(t, err)
		l.set(deviceRecord(status.Author.Person, status.Device), "name", name)
		l.carry(a)
	}
	require.Contains(t, a.aside(0).Revisions[0].Reason, "when Hela Marsh's laptop north and Hela Marsh's laptop south ended the laptop's standing")
}

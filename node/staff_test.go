package node

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

func TestAStaffOfOneWritesAtOnce(t *testing.T) {
	a := found(t)
	id := a.add("prospect", "name", "Orrin Vale", "position", "LT", "school", "Salt Lick")
	require.Equal(t, []string{"Orrin Vale"}, a.texts(id, "name"))
	s, err := a.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Harbor Point", s.StaffName)
	require.Equal(t, "Maren Ostrava", s.Author.Name)
	require.Equal(t, entry.RoleDirector, s.Role)
	_, _, err = a.Found(t.Context(), "Another", "Other", "")
	refused(t, err, ErrHasStaff)
}

func TestBeforeAStaffNothingIsWritten(t *testing.T) {
	l := newLaptop(t, "nobody")
	_, err := l.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "Orrin Vale"})}})
	refused(t, err, ErrNoStaff)
}

func TestPairedLaptopsShareEverything(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale")
	connect(t, a, b)
	require.Equal(t, []string{"Orrin Vale"}, b.texts(id, "name"))
	b.set(id, "school", "Salt Lick")
	agree(t, a, b)
	require.Equal(t, []string{"Salt Lick"}, a.texts(id, "school"))
	require.Equal(t, "Tove Lund", a.field(id, "school").Values[0].Author.Name)
}

func TestAScoutMayNotWriteWhatIsTheDirectors(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	_, err := b.Write(t.Context(), []Write{{Kind: "factor", Sets: sets([]string{"name", "hand_use"})}})
	refused(t, err, ErrRights)
	_, err = b.Revoke(t.Context(), "Maren Ostrava", false)
	refused(t, err, ErrRights)
	_, err = a.Promote(t.Context(), "Tove Lund")
	require.NoError(t, err)
	connect(t, a, b)
	b.add("factor", "name", "hand_use")
	agree(t, a, b)
}

func TestRevokedIsCutAtOnceAndSetAside(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	c := join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	connect(t, a, c)
	kept := b.add("prospect", "name", "Orrin Vale")
	agree(t, a, b, c)
	_, err := a.Revoke(t.Context(), "Tove Lund", false)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return len(b.Node.linked()) == 0 }, 5*time.Second, 10*time.Millisecond)
	require.Equal(t, []string{"Orrin Vale"}, a.texts(kept, "name"))
	_, err = b.Write(t.Context(), []Write{{Kind: "prospect", Sets: sets([]string{"name", "For nobody"})}})
	refused(t, err, ErrRights)
	require.ErrorContains(t, err, "revoked", "the laptop is told before its link ends")
	_, err = a.Revoke(t.Context(), "Maren Ostrava", false)
	refused(t, err, ErrRights)
}

// Two scouts meet who joined at different times, neither with the director in
// reach: each shows the other the control logs by which it is a member.
func TestStrangersOfOneStaffIntroduceThemselves(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	b.alone() // away while the next one joins
	c := join(t, a, "Ilse Brandt", false)
	id := c.add("prospect", "name", "Orrin Vale")
	a.stopNow()
	b.restart()
	connect(t, c, b)
	require.Equal(t, []string{"Orrin Vale"}, b.texts(id, "name"))
}

func TestADataFolderIsOpenOnce(t *testing.T) {
	a := found(t)
	_, err := Open(t.Context(), a.cfg)
	refused(t, err, ErrInUse)
}

// A scout whom a director admitted who was demoted since is still introduced by
// that director's control log.
func TestADemotedDirectorsGrantsAreStillIntroduced(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", true)
	c := join(t, a, "Ilse Brandt", false)
	c.alone() // away while the others change
	connect(t, a, b)
	d := join(t, b, "Pia Norrland", false)
	agree(t, a, b)
	_, err := a.Revoke(t.Context(), "Tove Lund", true)
	require.NoError(t, err)
	agree(t, a, b)
	connect(t, b, d)
	id := d.add("prospect", "name", "Orrin Vale")
	a.stopNow()
	b.stopNow()
	c.restart()
	connect(t, d, c)
	require.Equal(t, []string{"Orrin Vale"}, c.texts(id, "name"))
}

func TestBeforeAStaffNothingIsRead(t *testing.T) {
	l := newLaptop(t, "nobody")
	_, err := l.List(t.Context(), ListQuery{})
	refused(t, err, ErrNoStaff)
	_, err = l.Conflicts(t.Context(), "")
	refused(t, err, ErrNoStaff)
	s, err := l.Status(t.Context())
	require.NoError(t, err)
	require.False(t, s.Founded)
}

// A newcomer is called by name before anything has come over.
func TestANewcomerKnowsWhoTheyAre(t *testing.T) {
	a := found(t)
	a.alone()
	b := join(t, a, "Tove Lund", false)
	id := b.add("prospect", "name", "Orrin Vale")
	require.Equal(t, "Tove Lund", b.field(id, "name").Values[0].Author.Name)
	s, err := b.Status(t.Context())
	require.NoError(t, err)
	require.Equal(t, "Harbor Point", s.StaffName)
}

// The roster says what a revoked laptop was: a lost director's is looked for there.
func TestARevokedDirectorIsListedAsSuch(t *testing.T) {
	a := found(t)
	b := join(t, a, "Tove Lund", false)
	join(t, a, "Ilse Brandt", false)
	connect(t, a, b)
	_, err := a.Promote(t.Context(), "Tove Lund")
	require.NoError(t, err)
	for _, name := range []string{"Tove Lund", "Ilse Brandt"} {
		_, err = a.Revoke(t.Context(), name, false)
		require.NoError(t, err)
	}
	roster, err := a.Roster(t.Context())
	require.NoError(t, err)
	roles := map[string]entry.Role{}
	for _, m := range roster {
		if m.Revoked {
			roles[m.Author.Name] = m.Role
		}
	}
	require.Equal(t, map[string]entry.Role{"Tove Lund": entry.RoleDirector, "Ilse Brandt": entry.RoleScout}, roles)
}

// Until a laptop that joined is met, nobody has heard how it calls itself: its
// person's name says which it is. Two of one person are told apart.
func TestALaptopThatHasNotBeenMetIsKnownByItsPerson(t *testing.T) {
	a := found(t)
	b, c := newLaptop(t, "Tove Lund"), newLaptop(t, "Tove Lund")
	b.alone()
	pair(t, a, b, "Tove Lund", false)
	require.Equal(t, "Tove Lund's laptop", a.laptopName(b))
	c.alone()
	pair(t, a, c, "Tove Lund", false)
	require.Equal(t, "Tove Lund's laptop "+entry.DeviceOf(c.public()).String()[:8], a.laptopName(c))
	require.NotEqual(t, a.laptopName(b), a.laptopName(c))
	b.restart()
	connect(t, a, b)
	agree(t, a, b)
	require.Equal(t, b.laptopName(b), a.laptopName(b))
	require.Equal(t, "Tove Lund's laptop", a.laptopName(c))
}

func TestALaptopIsNamedOnceInASentence(t *testing.T) {
	for name, want := range map[string]string{
		"attic": "Tove Lund's laptop attic", "Tove Lund's laptop": "Tove Lund's laptop", "tove lund": "tove lund", "Tove": "Tove Lund's laptop Tove",
	} {
		require.Equal(t, want, LaptopOf("Tove Lund", name))
	}
	require.Equal(t, "attic", LaptopOf("", "attic"))
	require.Equal(t, "Ann's laptop Annex", LaptopOf("Ann", "Annex"))
	require.Equal(t, "person abcd's laptop efgh", LaptopOf("person abcd", "laptop efgh"))
}

// laptopName is how the other one is called on this laptop's roster.
func (l *laptop) laptopName(other *laptop) string {
	l.t.Helper()
	roster, err := l.Roster(l.t.Context())
	require.NoError(l.t, err)
	for _, m := range roster {
		if m.Device == entry.DeviceOf(other.public()) {
			return m.DeviceName
		}
	}
	l.t.Fatal("it isn't on the roster")
	return ""
}

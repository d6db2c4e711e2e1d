package merge_test

import (
	"testing"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Who may write what, as read from the record's id and the log's certificate.
// What the author's node asks before it writes is what receivers judge by.
func TestRule20RightsComeFromIDAndCertificate(t *testing.T) {
	w := newWorld(1)
	_, director := w.Director(w.Root, 1)
	scout, other := w.Scout(w.Root, 1), w.Scout(w.Root, 1)
	second := w.NewDevice() // another laptop of the scout
	second.Person = scout.Device.Person
	cert := w.Certificate(second, entry.RoleScout, 0, 1)
	w.Root.Grant(cert)
	newRole := w.NewDevice()
	newCert := w.Certificate(newRole, 99, 0, 1)
	w.Root.Grant(newCert)
	cases := []struct {
		name   string
		by     *line
		record entry.RecordID
		want   merge.Status
	}{
		{"a scout, own look", scout, scout.Look(1), merge.Applied},
		{"a scout's other laptop", w.Open(second, cert, false), scout.Look(1), merge.Applied},
		{"another scout, this look", other, scout.Look(1), merge.NoRight},
		{"a director, this look", director, scout.Look(1), merge.NoRight},
		{"a scout, a prospect", scout, shared(1), merge.Applied},
		{"a director, a prospect", director, shared(1), merge.Applied},
		{"a scout, the board", scout, board(1), merge.NoRight},
		{"a director, the board", director, board(1), merge.Applied},
		{"a role that is newer, the board", w.Open(newRole, newCert, false), board(1), merge.NoRight},
		{"a role that is newer, a prospect", w.Open(newRole, newCert, false), shared(1), merge.Applied},
		{"a kind that is newer, another's", other, scout.Owned(kindNewer, 1), merge.NoRight},
		{"a kind that is newer, own", scout, scout.Owned(kindNewer, 1), merge.Applied},
	}
	for _, c := range cases {
		f := c.by.Write(c.record, value(1, c.name))
		retirement := c.by.Retire(c.record, f)
		lap := all(w)
		check(t, c.name, lap.Status[f.ID], c.want)
		check(t, c.name+", retiring it", lap.Status[retirement.ID], c.want)
		decoded, err := entry.DecodeCertificate(c.by.Cert)
		if err != nil {
			t.Fatal(err)
		}
		check(t, c.name+", asked before", merge.MayWrite(decoded, c.record), c.want == merge.Applied)
	}
}

// Control entries count in control logs, records in the others.
func TestRule21LogsKeepToTheirPurpose(t *testing.T) {
	w := newWorld(1)
	control, data := w.Director(w.Root, 1)
	scout := w.Scout(w.Root, 1)
	grant := entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: w.Certificate(w.NewDevice(), entry.RoleScout, 0, 2)}}
	cases := []struct {
		name string
		f    *fact
		want merge.Status
	}{
		{"a grant in a control log", control.Put("", grant), merge.Applied},
		{"a grant in a data log", data.Put("", grant), merge.NoRight},
		{"a record in a control log", control.Write(shared(1), value(1, "x")), merge.NoRight},
		{"a record in the root's log", w.Root.Write(shared(1), value(1, "x")), merge.NoRight},
		{"a scout's control log", w.Open(scout.Device, scout.Cert, true).Put("", grant), merge.NoRight},
	}
	lap := all(w)
	for _, c := range cases {
		check(t, c.name, lap.Status[c.f.ID], c.want)
	}
}

func TestRule21AGrantCountsOnlyBelowItsGrantor(t *testing.T) {
	cases := []struct {
		name             string
		by               int    // depth of the grantor, in generation 1
		generation       uint64 // of what is granted
		depth            int
		want             merge.Status
		scoutDoesntGrant bool
	}{
		{"one step below", 1, 1, 2, merge.Applied, false},
		{"its own depth", 1, 1, 1, merge.SetAside, false},
		{"a higher depth", 2, 1, 1, merge.SetAside, false},
		{"an older generation, though nearer the root", 2, 0, 1, merge.Applied, false},
		{"a newer generation", 1, 2, 5, merge.SetAside, false},
		{"by a scout", 1, 1, 2, merge.SetAside, true},
	}
	for _, c := range cases {
		w := newWorld(1)
		d := w.NewDevice()
		role := entry.RoleDirector
		if c.scoutDoesntGrant {
			role = entry.RoleScout
		}
		cert := w.Certificate(d, role, 1, c.by)
		w.Root.Grant(cert)
		granted := w.NewDevice()
		grantedCert := w.Certificate(granted, entry.RoleScout, c.generation, c.depth)
		w.Open(d, cert, true).Grant(grantedCert)
		f := w.Open(granted, grantedCert, false).Write(shared(1), value(1, "x"))
		lap := all(w)
		check(t, c.name, lap.Status[f.ID], c.want)
		_, admission := lap.Verdict.Admission(grantedCert)
		check(t, c.name+", as a peer", admission == merge.Admitted, c.want == merge.Applied)
	}
}

func TestRule21WritesWaitForTheGrant(t *testing.T) {
	w := newWorld(1)
	d := w.NewDevice()
	cert := w.Certificate(d, entry.RoleScout, 0, 1)
	f := w.Open(d, cert, false).Write(shared(1), value(1, "x"))
	lap := all(w)
	check(t, "before", lap.Status[f.ID], merge.SetAside)
	lap.shows(t, "before", shared(1))
	lap.Learn(w.Root.Grant(cert))
	check(t, "after", lap.Status[f.ID], merge.Applied)
	lap.shows(t, "after", shared(1), "x")
}

// A grant of a director who was cut before it counts no more; the same
// certificate, granted again by another one, does.
func TestRule21AnyCountedGrantKeepsACertificate(t *testing.T) {
	w := newWorld(1)
	first, _ := w.Director(w.Root, 1)
	second, _ := w.Director(w.Root, 1)
	before := first.At
	scout := w.Scout(first, 2)
	f := scout.Write(shared(1), value(1, "x"))
	lap := all(w)
	lap.Learn(w.Root.Cut(first.Device, entry.BeyondNothing, []*fact{before}))
	check(t, "with the first director cut", lap.Status[f.ID], merge.SetAside)
	lap.Learn(second.Grant(scout.Cert))
	check(t, "granted again", lap.Status[f.ID], merge.Applied)
}

// A log can't borrow a certificate: the key in its first entry isn't the one
// that the certificate is for.
func TestRule21ACertificateIsGoodForItsOwnDevice(t *testing.T) {
	w := newWorld(1)
	control, _ := w.Director(w.Root, 1)
	thief := w.Open(w.NewDevice(), control.Cert, true)
	victim := w.Scout(w.Root, 1)
	cut := thief.Cut(victim.Device, entry.BeyondNothing, nil)
	unreadable := w.Open(w.NewDevice(), []byte("no certificate"), false).Write(shared(1), value(1, "x"))
	f := victim.Write(shared(1), value(1, "y"))
	stranger := newWorld(2).Root // another staff's root is nobody here
	lap := read(w, append(w.Facts, stranger.At)...)
	check(t, "the thief's cut", lap.Status[cut.ID], merge.SetAside)
	check(t, "a log without a certificate", lap.Status[unreadable.ID], merge.SetAside)
	check(t, "the victim's write", lap.Status[f.ID], merge.Applied)
	check(t, "another staff's root", lap.Status[stranger.At.ID], merge.SetAside)
	check(t, "a log never seen", lap.Verdict.Standing(entry.LogID{1}).Granted, false)
}

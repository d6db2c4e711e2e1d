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
	_, director := w.director(w.root, 1)
	scout, other := w.scout(w.root, 1), w.scout(w.root, 1)
	second := w.newDevice() // another laptop of the scout
	second.person = scout.device.person
	cert := w.certificate(second, entry.RoleScout, 0, 1)
	w.root.grant(cert)
	newRole := w.newDevice()
	newCert := w.certificate(newRole, 99, 0, 1)
	w.root.grant(newCert)
	cases := []struct {
		name   string
		by     *line
		record entry.RecordID
		want   merge.Status
	}{
		{"a scout, own look", scout, owned(kindLook, scout, 1), merge.Applied},
		{"a scout's other laptop", w.open(second, cert, false), owned(kindLook, scout, 1), merge.Applied},
		{"another scout, this look", other, owned(kindLook, scout, 1), merge.NoRight},
		{"a director, this look", director, owned(kindLook, scout, 1), merge.NoRight},
		{"a scout, a prospect", scout, shared(1), merge.Applied},
		{"a director, a prospect", director, shared(1), merge.Applied},
		{"a scout, the board", scout, board(1), merge.NoRight},
		{"a director, the board", director, board(1), merge.Applied},
		{"a role that is newer, the board", w.open(newRole, newCert, false), board(1), merge.NoRight},
		{"a role that is newer, a prospect", w.open(newRole, newCert, false), shared(1), merge.Applied},
		{"a kind that is newer, another's", other, owned(kindNewer, scout, 1), merge.NoRight},
		{"a kind that is newer, own", scout, owned(kindNewer, scout, 1), merge.Applied},
	}
	for _, c := range cases {
		f := c.by.write(c.record, value(1, c.name))
		retirement := c.by.retire(c.record, f)
		lap := w.all()
		check(t, c.name, lap.status[f.id], c.want)
		check(t, c.name+", retiring it", lap.status[retirement.id], c.want)
		decoded, err := entry.DecodeCertificate(c.by.cert)
		if err != nil {
			t.Fatal(err)
		}
		check(t, c.name+", asked before", merge.MayWrite(decoded, c.record), c.want == merge.Applied)
	}
}

// Control entries count in control logs, records in the others.
func TestRule21LogsKeepToTheirPurpose(t *testing.T) {
	w := newWorld(1)
	control, data := w.director(w.root, 1)
	scout := w.scout(w.root, 1)
	grant := entry.Body{Kind: entry.KindGrant, Grant: &entry.Grant{Certificate: w.certificate(w.newDevice(), entry.RoleScout, 0, 2)}}
	cases := []struct {
		name string
		f    *fact
		want merge.Status
	}{
		{"a grant in a control log", control.put("", grant), merge.Applied},
		{"a grant in a data log", data.put("", grant), merge.NoRight},
		{"a record in a control log", control.write(shared(1), value(1, "x")), merge.NoRight},
		{"a record in the root's log", w.root.write(shared(1), value(1, "x")), merge.NoRight},
		{"a scout's control log", w.open(scout.device, scout.cert, true).put("", grant), merge.NoRight},
	}
	lap := w.all()
	for _, c := range cases {
		check(t, c.name, lap.status[c.f.id], c.want)
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
		d := w.newDevice()
		role := entry.RoleDirector
		if c.scoutDoesntGrant {
			role = entry.RoleScout
		}
		cert := w.certificate(d, role, 1, c.by)
		w.root.grant(cert)
		granted := w.newDevice()
		grantedCert := w.certificate(granted, entry.RoleScout, c.generation, c.depth)
		w.open(d, cert, true).grant(grantedCert)
		f := w.open(granted, grantedCert, false).write(shared(1), value(1, "x"))
		lap := w.all()
		check(t, c.name, lap.status[f.id], c.want)
		_, admission := lap.verdict.Admission(grantedCert)
		check(t, c.name+", as a peer", admission == merge.Admitted, c.want == merge.Applied)
	}
}

func TestRule21WritesWaitForTheGrant(t *testing.T) {
	w := newWorld(1)
	d := w.newDevice()
	cert := w.certificate(d, entry.RoleScout, 0, 1)
	f := w.open(d, cert, false).write(shared(1), value(1, "x"))
	lap := w.all()
	check(t, "before", lap.status[f.id], merge.SetAside)
	lap.shows(t, "before", shared(1))
	lap.learn(w.root.grant(cert))
	check(t, "after", lap.status[f.id], merge.Applied)
	lap.shows(t, "after", shared(1), "x")
}

// A grant of a director who was cut before it counts no more; the same
// certificate, granted again by another one, does.
func TestRule21AnyCountedGrantKeepsACertificate(t *testing.T) {
	w := newWorld(1)
	first, _ := w.director(w.root, 1)
	second, _ := w.director(w.root, 1)
	before := first.at
	scout := w.scout(first, 2)
	f := scout.write(shared(1), value(1, "x"))
	lap := w.all()
	lap.learn(w.root.cut(first.device, entry.BeyondNothing, []*fact{before}))
	check(t, "with the first director cut", lap.status[f.id], merge.SetAside)
	lap.learn(second.grant(scout.cert))
	check(t, "granted again", lap.status[f.id], merge.Applied)
}

// A log can't borrow a certificate: the key in its first entry isn't the one
// that the certificate is for.
func TestRule21ACertificateIsGoodForItsOwnDevice(t *testing.T) {
	w := newWorld(1)
	control, _ := w.director(w.root, 1)
	thief := w.open(w.newDevice(), control.cert, true)
	victim := w.scout(w.root, 1)
	cut := thief.cut(victim.device, entry.BeyondNothing, nil)
	unreadable := w.open(w.newDevice(), []byte("no certificate"), false).write(shared(1), value(1, "x"))
	f := victim.write(shared(1), value(1, "y"))
	stranger := newWorld(2).root // another staff's root is nobody here
	lap := w.read(append(w.facts, stranger.at)...)
	check(t, "the thief's cut", lap.status[cut.id], merge.SetAside)
	check(t, "a log without a certificate", lap.status[unreadable.id], merge.SetAside)
	check(t, "the victim's write", lap.status[f.id], merge.Applied)
	check(t, "another staff's root", lap.status[stranger.at.id], merge.SetAside)
	check(t, "a log never seen", lap.verdict.Standing(entry.LogID{1}).Granted, false)
}

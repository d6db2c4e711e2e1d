package merge

import (
	"bytes"
	"cmp"
	"slices"

	"plumbline/sync/entry"
)

// Log is what the judge needs of a log: its first entry.
type Log struct {
	ID      entry.LogID
	Genesis entry.Genesis
}

// Control is one entry of a control log at its place.
type Control struct {
	ID    entry.ID
	Place Place
	Body  entry.Body
}

// Ledger is what the judge reads of the entries held.
type Ledger struct {
	Staff entry.StaffID
	Logs  []Log
	// Controls holds all entries of control logs but their first, in any order.
	Controls []Control
	Tree     *Tree
	// Locate finds an entry by its identifier.
	Locate func(entry.ID) (Place, bool)
	// Supposed are cuts that nobody wrote: the verdict is what it would be if
	// somebody of their author's rank did, and they counted.
	Supposed []Supposed
}

// Supposed is a cut as it would be written.
type Supposed struct {
	By   entry.Rank
	Body entry.Cut
}

// Verdict is what the control entries held come to.
type Verdict struct {
	standings map[entry.LogID]Standing
	readmits  map[entry.CertificateID][]entry.ID
	cuts      *cutTable
	// Grants holds the certificates that count.
	Grants map[entry.CertificateID]entry.Certificate
	// Cuts holds the cuts that count and that no other one has raised.
	Cuts []Cut
	// Erasures holds what counted erasures name.
	Erasures Erasures
	// LinkKeys holds the announced link keys that count, the newest first.
	LinkKeys []LinkKey
	// Newer names counted control entries of a kind newer than this program.
	// While there is one, nothing may be folded: it could mean anything.
	Newer []entry.ID
}

// Cut is a counted cut.
type Cut struct {
	ID     entry.ID
	Author entry.Rank
	Body   entry.Cut

	place Place
}

// rootRank is above every certificate's: certificates start at depth 1.
var rootRank = entry.Rank{Generation: everything, Depth: 0}

// judge holds what has been decided so far, from the highest rank downwards.
type judge struct {
	Ledger
	logs     map[entry.LogID]judgedLog
	readmits map[entry.CertificateID][]entry.ID
	certs    map[entry.CertificateID]entry.Certificate
	cuts     *cutTable
	erasures Erasures
	keys     []LinkKey
	newer    []entry.ID
}

type judgedLog struct {
	cert    entry.Certificate
	id      entry.CertificateID
	root    bool
	control bool
	broken  bool // its certificate can't be read, or is another device's
	rank    entry.Rank
	device  entry.DeviceID
}

// Judge decides what counts. Control entries are taken by the rank of their
// author's certificate, highest first, and a grant or cut only ever binds
// ranks below its author's. So everything that bears on a rank is decided
// before the rank is reached, and there is exactly one outcome.
func Judge(l Ledger) *Verdict {
	j := &judge{
		Ledger:   l,
		logs:     make(map[entry.LogID]judgedLog, len(l.Logs)),
		readmits: map[entry.CertificateID][]entry.ID{},
		certs:    map[entry.CertificateID]entry.Certificate{},
		cuts:     newCutTable(),
	}
	for _, log := range l.Logs {
		j.logs[log.ID] = readLog(l.Staff, log.Genesis)
	}
	byRank := map[entry.Rank][]Control{}
	for _, c := range l.Controls {
		if log := j.logs[c.ID.Log]; !log.broken {
			byRank[log.rank] = append(byRank[log.rank], c)
		}
	}
	for _, s := range l.Supposed {
		if _, has := byRank[s.By]; !has {
			byRank[s.By] = nil // so that the rank is heard
		}
	}
	for _, rank := range ranksDownwards(byRank) {
		j.hear(rank, byRank[rank])
	}
	return j.verdict()
}

func readLog(staff entry.StaffID, g entry.Genesis) judgedLog {
	device := entry.DeviceOf(g.Device)
	if g.Control && len(g.Certificate) == 0 && entry.StaffOf(g.Device) == staff {
		return judgedLog{root: true, control: true, rank: rootRank, device: device}
	}
	cert, err := entry.DecodeCertificate(g.Certificate)
	if err != nil || !bytes.Equal(cert.Device, g.Device) {
		return judgedLog{broken: true, control: g.Control, device: device}
	}
	return judgedLog{cert: cert, control: g.Control, id: entry.CertificateOf(g.Certificate), rank: cert.Rank(), device: device}
}

func ranksDownwards(byRank map[entry.Rank][]Control) []entry.Rank {
	ranks := make([]entry.Rank, 0, len(byRank))
	for r := range byRank {
		ranks = append(ranks, r)
	}
	slices.SortFunc(ranks, func(a, b entry.Rank) int {
		return cmp.Or(cmp.Compare(b.Generation, a.Generation), cmp.Compare(a.Depth, b.Depth))
	})
	return ranks
}

// hear takes the control entries of one rank. All of them are judged by what
// higher ranks said before any is taken: equals don't bind each other. They are
// taken in the order of their ids, so that the lists that come out of it are
// equal on every laptop.
func (j *judge) hear(rank entry.Rank, controls []Control) {
	slices.SortFunc(controls, func(a, b Control) int { return a.ID.Compare(b.ID) })
	controls = slices.CompactFunc(controls, func(a, b Control) bool { return a.ID == b.ID })
	standings := map[entry.LogID]Standing{}
	var accepted []Control
	for _, c := range controls {
		s, ok := standings[c.ID.Log]
		if !ok {
			s = j.standing(c.ID.Log)
			standings[c.ID.Log] = s
		}
		if s.Status(s.Span(j.Tree, c.Place.Branch), c.Place.Seq, "", c.Body.Kind) == Applied {
			accepted = append(accepted, c)
		}
	}
	var cuts []Cut
	for _, c := range accepted {
		if newer(c.Body) {
			j.newer = append(j.newer, c.ID)
		} else if c.Body.Kind == entry.KindCut {
			cuts = append(cuts, Cut{ID: c.ID, Author: rank, Body: *c.Body.Cut, place: c.Place})
		} else {
			j.accept(rank, c)
		}
	}
	j.cuts.hear(&j.Ledger, append(cuts, j.supposed(rank)...))
}

// supposed are the cuts of a rank that nobody wrote. No log has their ids, and
// they lie before everything, so that no link key lacks them.
func (j *judge) supposed(rank entry.Rank) []Cut {
	var cuts []Cut
	for i, s := range j.Supposed {
		if s.By == rank {
			cuts = append(cuts, Cut{ID: entry.ID{Seq: uint64(i) + 1}, Author: rank, Body: s.Body})
		}
	}
	return cuts
}

// newer reports whether a control entry says what this program has no word
// for: a kind, a certificate's format, or what a cut leaves.
func newer(b entry.Body) bool {
	switch b.Kind {
	case entry.KindGrant:
		return len(b.Grant.Certificate) > 0 && b.Grant.Certificate[0] > entry.Version
	case entry.KindCut:
		return b.Cut.Beyond > entry.BeyondScout
	}
	return !b.Known()
}

func (j *judge) accept(rank entry.Rank, c Control) {
	switch c.Body.Kind {
	case entry.KindGrant:
		cert, err := entry.DecodeCertificate(c.Body.Grant.Certificate)
		if err != nil || !rank.Above(cert.Rank()) {
			return
		}
		id := entry.CertificateOf(c.Body.Grant.Certificate)
		j.certs[id] = cert
		j.readmits[id] = append(j.readmits[id], c.Body.Grant.Readmits...)
	case entry.KindErasure:
		j.erasures.add(*c.Body.Erasure)
	case entry.KindLinkKey:
		j.keys = append(j.keys, LinkKey{ID: c.ID, Device: j.logs[c.ID.Log].device, Body: *c.Body.LinkKey, place: c.Place})
	}
}

// standing judges a log by what has been heard so far, which is all that can
// bear on it once every higher rank has spoken.
func (j *judge) standing(id entry.LogID) Standing {
	log := j.logs[id]
	s := Standing{Certificate: log.cert, Root: log.root, Control: log.control}
	if log.broken || log.root {
		return s
	}
	_, s.Granted = j.certs[log.id]
	for _, cut := range j.cuts.binding(log.device, log.rank, j.readmits[log.id]) {
		s.Limits = append(s.Limits, cut.limit(id))
	}
	return s
}

func (j *judge) verdict() *Verdict {
	cuts := j.cuts.standing()
	j.weighKeys(cuts)
	v := &Verdict{
		standings: make(map[entry.LogID]Standing, len(j.Logs)), readmits: j.readmits, cuts: j.cuts,
		Grants: j.certs, Cuts: cuts, Erasures: j.erasures, LinkKeys: j.keys, Newer: j.newer,
	}
	for _, log := range j.Logs {
		v.standings[log.ID] = j.standing(log.ID)
	}
	return v
}

// Standing returns what a log may do. A log that the judge hasn't seen may do
// nothing.
func (v *Verdict) Standing(log entry.LogID) Standing { return v.standings[log] }

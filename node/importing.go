package node

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"cel.dev/cel-go/common/types"

	"plumbline/node/importer"
	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// defaultSource names the list of an import that names none. It is the same
// for everybody, so that two people who import one file make the same records
// although their copies of it are called differently.
const defaultSource = "list"

// Import reads a table and writes what it proposes, in one transaction. With a
// bad row nothing is written, unless the request says to write the good ones.
func (n *Node) Import(ctx context.Context, q ImportRequest) (ImportReport, error) {
	n.importing.Add(1)
	defer n.importing.Add(-1)
	w, err := n.begin(ctx)
	if err != nil {
		return ImportReport{}, err
	}
	options, err := TableOptions(q)
	if err != nil {
		return ImportReport{}, err
	}
	options.Standing = w.standingTexts()
	result, err := importer.Import(bytes.NewReader(q.Data), options)
	if err != nil {
		return ImportReport{}, refuse(ErrInvalid, "%v", err)
	}
	report := ImportReport{Rows: result.Rows, DryRun: q.DryRun, Skipped: result.Failed}
	report.Remarks = append(report.Remarks, leftOut(options.Kind, result.Derived)...)
	for _, p := range result.Problems {
		report.Errors = append(report.Errors, RowError(p))
	}
	if len(report.Errors) > 0 && !q.Partial {
		report.remarkOnUnlisted(result.Failed)
		return refusedTable(report, result), nil
	}
	b := newImporting(w, q, options.File, result.Sheet, &report)
	if err := b.takeAll(result.Proposals); err != nil {
		return ImportReport{}, err
	}
	if err := b.lookAtProspects(); err != nil {
		return ImportReport{}, err
	}
	b.remarkOnSaved()
	report.remarkOnUnlisted(result.Failed + len(b.wrong))
	if (len(report.Errors) > 0 || report.NamesakeRows > 0) && !q.Partial {
		return refusedTable(report, result), w.err
	}
	report.Skipped += len(b.skipped)
	report.WrongRows = wrongRows(report.Errors, result)
	slices.SortStableFunc(report.Records, func(a, c ImportedRecord) int { return weight(a) - weight(c) })
	if q.DryRun {
		return report, w.err
	}
	if err := w.save(); err != nil {
		return report, err
	}
	b.pack()
	return report, nil
}

// pack makes the packs of what was imported, for the list that is asked for next:
// of many records that takes longer than a person waits, beside their import little.
// That is done by whoever asks if it fails here; what was imported is saved.
func (b *importing) pack() {
	kinds := map[entry.Kind]int{}
	for _, d := range b.drafts {
		kinds[d.Record.Kind()]++
	}
	for _, kind := range packedKinds {
		if kinds[kind] < storage.PackSize {
			continue
		}
		if err := b.n.pack(b.ctx, kind, true); err != nil && b.ctx.Err() == nil {
			b.n.cfg.Log.Warn("lists wait for the next question", "cause", err)
		}
	}
}

// TableOptions says how a table is read for a request.
func TableOptions(q ImportRequest) (importer.Options, error) {
	k, err := record.Stored().KindByName(q.Kind)
	if err != nil {
		return importer.Options{}, invalid(err)
	}
	return importer.Options{
		File: cmp.Or(q.File, "the table"), Kind: k.Number, Map: q.Headers, Defaults: q.Defaults, Sheet: q.Sheet,
		Derived: derivedOf(k),
	}, wrongSource(q.Source)
}

// derivedOf names what a listing of a kind shows beside its fields, and which of that
// has keys.
func derivedOf(k *record.Kind) map[string]bool {
	derived := map[string]bool{}
	for name, f := range fieldsOf(k.Number) {
		if _, err := k.FieldByName(name); err != nil {
			derived[name] = f.Type.Kind() == types.MapKind
		}
	}
	return derived
}

// refusedTable is the report of a table of which nothing was written.
func refusedTable(r ImportReport, of *importer.Result) ImportReport {
	return ImportReport{
		Rows: r.Rows, Errors: r.Errors, Remarks: r.Remarks, Skipped: r.Rows, DryRun: true, WrongRows: wrongRows(r.Errors, of),
		Namesakes: r.Namesakes, NamesakeRows: r.NamesakeRows,
	}
}

// maxReadRows bounds what an import keeps of the records that it has looked at.
const maxReadRows = 20000

type naturalKey struct {
	kind entry.Kind
	key  string
}

// importing turns proposals into drafts.
type importing struct {
	*writer
	file   string
	sheet  string
	source string
	// namesakes says what becomes of rows that have the name of a prospect who is here.
	namesakes Namesakes
	report    *ImportReport
	ids       map[naturalKey]entry.RecordID
	// whole are rows that were given their record: they are about all that is one with it.
	whole map[naturalKey]bool
	// matched are the prospects for whom rows were taken by their names.
	matched map[naturalKey]entry.RecordID
	// withIDs is the kind of those rows that give the ids of their records, if any do.
	withIDs entry.Kind
	// lines are those in which a record came, to find two rows of one record.
	lines map[entry.RecordID]int
	here  *prospectsHere
	saved savedRows
	// without are the records that are left out, and what refers to them is.
	without map[naturalKey]bool
	// skipped are the lines of which something is left out.
	skipped map[int]bool
	// wrong are the lines that something is wrong with here, listed or not.
	wrong map[int]bool
	// told counts the records that the report tells of: those that were there, and
	// those that weren't.
	told map[bool]int
}

func newImporting(w *writer, q ImportRequest, file, sheet string, report *ImportReport) *importing {
	return &importing{
		writer: w, file: file, sheet: sheet, source: cmp.Or(q.Source, defaultSource), namesakes: q.Namesakes, report: report,
		ids: map[naturalKey]entry.RecordID{}, whole: map[naturalKey]bool{}, matched: map[naturalKey]entry.RecordID{}, lines: map[entry.RecordID]int{}, without: map[naturalKey]bool{}, skipped: map[int]bool{}, wrong: map[int]bool{}, told: map[bool]int{},
	}
}

func (b *importing) takeAll(proposals []importer.Proposal) error {
	if i := slices.IndexFunc(proposals, func(p importer.Proposal) bool { return p.Record != "" }); i >= 0 {
		b.withIDs = proposals[i].Kind
	}
	for _, p := range proposals {
		if err := b.take(p); err != nil {
			return err
		}
		// What was read for one row is seldom needed for another.
		if len(b.rows) > maxReadRows {
			clear(b.rows)
		}
	}
	return nil
}

func (b *importing) take(p importer.Proposal) error {
	if slices.ContainsFunc(p.Fields, func(f importer.FieldValue) bool {
		return f.IsRef() && b.without[naturalKey{f.RefKind, f.RefKey}]
	}) {
		b.leaveOut(p) // it goes with the record that it refers to
		return b.err
	}
	if p.Kind == record.Measurement && b.isMeasured(p) {
		b.report.Unchanged++
		return b.err
	}
	id, ok, err := b.find(p)
	if err != nil || !ok {
		return err
	}
	g, exists := b.target(p, id)
	if exists && p.Mention {
		return nil
	}
	told, conflicts := b.telling(p, g.leader, exists), b.report.Conflicts
	changes := b.changes(p, g, exists, told)
	if b.without[naturalKey{p.Kind, p.NaturalKey}] {
		b.report.Conflicts = conflicts
		return b.err
	}
	edits := changes
	if _, matched := b.matched[naturalKey{p.Kind, p.NaturalKey}]; matched {
		changes = b.remember(p, id, changes)
	}
	if rule := b.cantSave(p, id, changes); rule != "" {
		b.report.Conflicts = conflicts
		b.refuseRow(p, rule)
		return b.err
	}
	b.saved.joined.note(p, g.leader, edits)
	told.done(len(changes) > 0)
	b.noteKept(p, g)
	if p.Mention && (p.Kind == record.Prospect || p.Kind == record.Game) {
		b.remark(p)
	}
	switch {
	case !exists:
		b.report.Added++
	case len(changes) > 0:
		b.report.Changed++
	default:
		b.report.Unchanged++
	}
	return errors.Join(b.draftEach(p, changes), b.joinMatched(p, id), b.err)
}

// find returns the record of a row; false if the row is left out, which is told.
func (b *importing) find(p importer.Proposal) (entry.RecordID, bool, error) {
	id, err := b.identify(p)
	if err == nil {
		err = b.orNamesake(p, id)
	}
	switch {
	case errors.Is(err, errAsked):
		b.leaveOut(p)
		return id, false, b.err
	case errors.Is(err, ErrNotFound) && p.Record != "":
		b.list(RowError{Line: p.Line, Column: importer.RecordColumn, Value: p.Record, Rule: err.Error()})
		b.leaveOut(p)
		return id, false, b.err
	case errors.Is(err, ErrAmbiguous), errors.Is(err, ErrNotFound):
		b.refuseRow(p, err.Error())
		return id, false, b.err
	case err != nil:
		return id, false, err
	}
	b.ids[naturalKey{p.Kind, p.NaturalKey}] = id
	if b.erased(id) {
		b.refuseRow(p, fmt.Sprintf("this %s was erased by a director, and what is written to it counts nowhere; "+
			"leave the row out, or import it from a list of another name (--source)", kindName(id)))
		return id, false, b.err
	}
	if line, twice := b.before(p, id); twice {
		b.refuseRow(p, fmt.Sprintf("the same %s as in line %d; leave one of them out", kindName(id), line))
		return id, false, b.err
	}
	return id, true, b.err
}

// maxRemarks bounds the remarks of one import.
const maxRemarks = 50

// remark tells that a row makes a record which it only names: a slip of the
// pen makes one too.
func (b *importing) remark(p importer.Proposal) {
	if len(b.report.Remarks) == maxRemarks {
		b.report.Remarks = append(b.report.Remarks, "and more like these")
	}
	if len(b.report.Remarks) > maxRemarks {
		return
	}
	b.report.Remarks = append(b.report.Remarks, fmt.Sprintf("line %d makes a new %s, %s, which is only named there%s; if that is a slip of the pen, correct the table",
		p.Line, kindOr(p.Kind, "record"), b.words(p), b.near(p)))
}

// near names prospects that the row may have meant.
func (b *importing) near(p importer.Proposal) string {
	for _, f := range p.Fields {
		if p.Kind == record.Prospect && f.Register.Field.Name == "name" {
			if name, err := f.Register.Text(f.Value); err == nil {
				return b.hint(p.Kind, name)
			}
		}
	}
	return ""
}

func (b *importing) erased(id entry.RecordID) bool { return b.n.store.Verdict().Erasures.Record(id) }

// identify returns the record of a proposal: the one that its natural key has
// always meant, or one that it only mentions and that is there by hand.
func (b *importing) identify(p importer.Proposal) (entry.RecordID, error) {
	if p.Record != "" {
		return b.given(p)
	}
	if id, ok := b.ids[naturalKey{p.Kind, p.NaturalKey}]; ok {
		return id, nil
	}
	k, ok := record.Stored().Kind(p.Kind)
	if !ok {
		return "", refuse(ErrInvalid, "kind %d isn't known", p.Kind)
	}
	id := b.n.id()
	if alone := id.FormerIDKey; len(alone) == keySize {
		// What its person took along keeps its id, made by the key of that ledger.
		if keyed := b.keyed(k, p, alone); b.known(keyed) {
			return keyed, b.err
		}
	}
	keyed := b.keyed(k, p, id.IDKey)
	if b.known(keyed) {
		return keyed, b.err
	}
	if found := b.listedHere(p); len(found) > 0 {
		b.whole[naturalKey{p.Kind, p.NaturalKey}] = true
		return b.onlyOne(p, found, keyed)
	}
	if !p.Mention {
		return keyed, b.err
	}
	return b.mentioned(p, keyed)
}

func (b *importing) keyed(k *record.Kind, p importer.Proposal, key []byte) entry.RecordID {
	return entry.NewRecordID(k.Class, k.Number, b.cert.Person, entry.KeyedUnique([32]byte(key), b.source, p.NaturalKey))
}

func (b *importing) known(id entry.RecordID) bool {
	_, ok := b.row(id)
	return ok
}

// mentioned looks for a record that holds every value by which it is named.
func (b *importing) mentioned(p importer.Proposal, otherwise entry.RecordID) (entry.RecordID, error) {
	ids, err := b.n.store.Search(b.ctx, b.nameOf(p), p.Kind, maxNamed)
	if err != nil {
		return "", err
	}
	var found []entry.RecordID
	for _, id := range ids {
		if leader := b.groups.Leader(id); b.holds(id, p) && !slices.Contains(found, leader) {
			found = append(found, leader)
		}
	}
	return b.onlyOne(p, found, otherwise)
}

// onlyOne is the one that was found, or what it is otherwise.
func (b *importing) onlyOne(p importer.Proposal, found []entry.RecordID, otherwise entry.RecordID) (entry.RecordID, error) {
	switch len(found) {
	case 0:
		return otherwise, b.err
	case 1:
		return found[0], b.err
	}
	return "", b.ambiguous(p.Kind, b.words(p), found, wholeIDs) // a table takes no shorter ones
}

// words are what a person knows the record of a row by: the first of them, since what
// an evaluation is searched by are its texts.
func (b *importing) words(p importer.Proposal) string {
	return record.Shorten(cmp.Or(b.nameOf(p), listIDOf(p)))
}

// nameOf are the words by which a record is searched for.
func (b *importing) nameOf(p importer.Proposal) string {
	var words []string
	for _, f := range p.Fields {
		if f.Register.Field.IsIndexed() {
			if text, err := f.Register.Text(f.Value); err == nil {
				words = append(words, text)
			}
		}
	}
	return strings.Join(words, " ")
}

func (b *importing) holds(id entry.RecordID, p importer.Proposal) bool {
	return !slices.ContainsFunc(p.Fields, func(f importer.FieldValue) bool {
		want, err := f.Register.Text(f.Value)
		return f.IsRef() || err != nil || !strings.EqualFold(b.shownText(id, f.Register.Path()), want)
	})
}

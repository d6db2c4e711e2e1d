package node

import (
	"time"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Value is one live value of a field as it is shown.
type Value struct {
	ID      entry.ID
	Record  entry.RecordID // where it stands: differs between joined records
	JSON    any            // nil when cleared or unreadable
	Text    string
	Refers  entry.RecordID // for a reference
	Author  Author
	Written time.Time
	Source  string // the list it came from; empty for what a person wrote
	Cleared bool
	// Unreadable is set when the value is newer than this program.
	Unreadable bool
}

// Author is who wrote something, on which laptop.
type Author struct {
	Person entry.PersonID
	Name   string
	Device entry.DeviceID
}

// Field is one field of a record, or one key of a map field.
type Field struct {
	Name     string
	Label    string
	Values   []Value // the one to show first
	Conflict bool
}

// Record is the merged state of one record, or of several that were joined.
type Record struct {
	ID         entry.RecordID
	Kind       string
	Title      string
	Fields     []Field
	Members    []entry.RecordID
	Visibility merge.Visibility
	Owner      Author // of an owned record
}

// Detail is a record with everything that refers to it and what is worked out.
type Detail struct {
	Record  Record
	Related []Record
	// Summary holds the names that expressions use; nil for kinds without one.
	Summary map[string]any
	// AsOf says up to where this was read, for Retire and Keep.
	AsOf string
	// Arrived is what has come in since an earlier reading, if one was given.
	Arrived Unread
}

// Unread is what counts and wasn't read: the first of it, and how much it is.
type Unread struct {
	Revisions []Revision
	Total     int
}

// Retired is a record that was retired, and what keeps it in sight.
type Retired struct {
	Record Record
	Unread Unread
}

// Aside is what is kept and doesn't count: the first of it, how much there is,
// and what was listed, for Accept.
type Aside struct {
	Revisions []Revision
	Total     int
	AsOf      string
}

// Revision is one entry in a record's history.
type Revision struct {
	ID      entry.ID
	Record  entry.RecordID
	Author  Author
	Written time.Time
	Status  merge.Status
	Act     entry.BodyKind
	Source  string
	Fields  []RevisedField
	// Of what doesn't count: the record's title, the laptop's name, and why.
	Title, DeviceName, Reason string
	// Says is what an entry does that stands on no record, as a control entry.
	Says string
	// Control is set in a log of control entries.
	Control bool
}

// RevisedField is one write of a revision.
type RevisedField struct {
	Name     string
	Text     string
	Cleared  bool
	Replaces []entry.ID
}

// ListQuery says what to list.
type ListQuery struct {
	Kind    string // "prospect" if empty
	Where   string // CEL
	Search  string
	Sort    []string // "-" in front turns the order around
	Columns []string // the kind's usual ones if empty
	Limit   int      // 0 for all
	Hidden  bool
}

// Listing is the answer.
type Listing struct {
	Columns []string
	Rows    []Row
	Total   int
}

// Row is one record in a listing. Cells and Texts go with the columns.
type Row struct {
	ID        entry.RecordID
	Title     string
	Cells     []any
	Texts     []string
	Conflicts int
}

// Conflict is something that only a person can settle.
type Conflict struct {
	About  string // "field", "retirement" or "same"
	Record entry.RecordID
	Kind   string
	Title  string
	Field  Field // for "field"
	// Ancestor is what the field's values were before they went apart; nil if
	// that is no one value.
	Ancestor *Value
	Advice   string
	// For "same": the second of the two records.
	Other      entry.RecordID
	OtherTitle string
	// Said is what was said of the two, and of the second and those by way of
	// which they were joined.
	Said []Value
	// For "retirement": up to where it was read, and what the retirements hadn't.
	AsOf   string
	Unread Unread
	Owner  Author // of an owned record, who alone may settle it
}

// Sameness is what came of saying that two records are one, or apart.
type Sameness struct {
	Record Record
	// Said is what stands now between the two: whoever takes it back names it.
	Said []Value
}

// Double is a pair of records that may be one.
type Double struct {
	First, Second Record
	Reason        string
}

// Write changes one record, or adds one when Record is empty.
type Write struct {
	Record string
	Kind   string
	NewID  string // 16 bytes in base32 that name a new record, so that a retry is safe
	Sets   []Set
}

// Set writes one field: Clear, else JSON if not nil, else Text.
type Set struct {
	Field string
	Text  string
	JSON  any
	Clear bool
	// Seen names the values that the writer saw there, and replaces.
	Seen []string
}

// Settlement ends a conflict: with the value that Choose names, or a new one.
type Settlement struct {
	Record string
	Set    Set
	Choose string
}

// ImportRequest is a table to read.
type ImportRequest struct {
	Kind     string
	Data     []byte
	File     string
	Source   string
	Headers  map[string]string
	Defaults map[string]string
	DryRun   bool
	Partial  bool
	// Sheet names the sheet of a workbook; its first one if empty.
	Sheet string
	// Namesakes says what becomes of rows that have the name of a prospect who is here.
	Namesakes Namesakes
}

// Namesakes says what becomes of a row that would enter a prospect anew, although one
// of that name, and of no other school or class year, is here.
type Namesakes int

const (
	// AskAboutNamesakes writes no such row, and tells of them.
	AskAboutNamesakes Namesakes = iota
	// MatchNamesakes takes the row for one about the prospect who is here.
	MatchNamesakes
	// NewNamesakes enters another player of that name.
	NewNamesakes
)

// Namesake is a row of a table, and a prospect who has that name.
type Namesake struct {
	Line     int
	Row      string // what the row says: name, position, school, class year
	Record   entry.RecordID
	Standing string // the same of the prospect
}

// ExportRequest says which records are written as a table, and how.
type ExportRequest struct {
	Kind, Where string
	Columns     []string
	// Format is csv (also if empty) or xlsx.
	Format string
	Search string
	Sort   []string
	Hidden bool
}

// ImportReport says what an import did, or would do.
type ImportReport struct {
	Rows, Added, Changed, Unchanged, Conflicts int
	Errors                                     []RowError
	DryRun                                     bool
	Skipped                                    int // rows left out as wrong
	// Remarks are sentences for a person to look at.
	Remarks []string
	// WrongRows are the rows that errors are about.
	WrongRows []TableRow
	// Records are the first that change or are added.
	Records []ImportedRecord
	// Namesakes are the first rows that are to be asked about, and NamesakeRows counts
	// all of these rows.
	Namesakes    []Namesake
	NamesakeRows int
}

// ImportedRecord is what an import makes of one record.
type ImportedRecord struct {
	Line        int
	Kind, Title string
	Added       bool
	Fields      []ImportedField
}

// ImportedField is one field that an import writes; Beside if others' values stay
// next to it.
type ImportedField struct {
	Name, Before, After string
	Beside              bool
}

// TableRow is one row of a table, as it stands there.
type TableRow struct {
	Line  int
	Cells []string
}

// RowError says what is wrong with one cell.
type RowError struct {
	File   string
	Line   int
	Column string
	Value  string
	Rule   string
	// Sheet is set for a workbook, and Cell too if one cell is meant.
	Sheet, Cell string
}

// Status says where a laptop stands.
type Status struct {
	Staff     entry.StaffID
	StaffName string
	Device    entry.DeviceID
	Author    Author
	Role      entry.Role
	Entries   uint64
	Logs      int
	StateHash merge.StateHash
	Conflicts int
	// OthersConflicts are those of Conflicts on records that only somebody else
	// may change.
	OthersConflicts int
	SetAside        int
	Peers           []PeerStatus
	Version         string
	Addresses       []string
	Trouble         string
	Controls        int
	Forked          []entry.LogID
	Returned        []ReturnedEntries
	Clones          []Clone
	Damages         []Damage
	Founded         bool
	DeviceName      string
	Alone           *Alone // what was taken along, if anything was
	// Unmet is since when a member has met no other laptop; empty once it has, and
	// where there is none.
	Unmet Arrival
}

// ReturnedEntries counts what one laptop brought back of a log of this one.
type ReturnedEntries struct {
	Log        entry.LogID
	Entries    int
	From       Author // the laptop
	DeviceName string
}

// Damage tells that the log of the last changes was damaged when the database was
// opened after a crash.
type Damage struct {
	// Kept is where the damaged file lies.
	Kept string
	// Whole is set when nothing is missing.
	Whole bool
	// After is when the last of this laptop's own entries was written that is still
	// held; zero for none.
	After time.Time
}

// Clone is a log that two copies of one laptop have continued.
type Clone struct {
	Log        entry.LogID
	Author     Author // whose log it is
	DeviceName string
	// Entries is how many each copy wrote after they parted.
	Entries []uint64
	Own     bool
}

// PeerStatus is another laptop of the staff.
type PeerStatus struct {
	Device     entry.DeviceID
	DeviceName string
	Author     Author
	Linked     bool
	Address    string
	Behind     uint64 // entries that it holds and this laptop lacks
	Ahead      uint64 // entries that this laptop holds and it lacks
	Revoked    bool
}

// Member is one laptop on the roster.
type Member struct {
	Device     entry.DeviceID
	DeviceName string
	Author     Author
	Role       entry.Role
	Revoked    bool
}

// Change reports what changed, to watchers.
type Change struct {
	Entries   uint64
	StateHash merge.StateHash
	Records   []entry.RecordID
	Many      bool // too many records to name
	Peers     bool // the laptops in reach changed
}

// PairingStep is one step of a pairing as it is shown to a person.
type PairingStep struct {
	Step      string // "waiting", "code", "root" or "done"
	Pairing   string
	Addresses []string
	Word      string
	Code      string
	Wrong     string // with "root": what was wrong with the one before
	// With "done".
	Device                entry.DeviceID
	Person                entry.PersonID
	Staff                 entry.StaffID
	PersonName, StaffName string
	Cut                   []string // laptops that a recovery has cut
	Alone                 *Alone   // what was taken along, if anything was
}

// KindInfo describes a kind of record.
type KindInfo struct {
	Name    string
	Aliases []string
	Help    string
	Rights  string
	Fields  []FieldInfo
	Figures []FieldInfo
}

// FieldInfo describes a field, or a figure that expressions may use.
type FieldInfo struct {
	Name, Label, Help, Type string
	Choices                 []string
	Refers                  string
	Keyed                   bool
	// Required fields are those that a new record must have; Prose has lines.
	Required, Prose bool
	// Synonyms are what people type for the choices besides their names.
	Synonyms map[string][]string
	// Keys are those that a keyed field may have, as far as the schema knows
	// them; KeyedBy is the kind whose names they are.
	Keys    []string
	KeyedBy string
}

// Checked is one field of a write as it was read.
type Checked struct {
	Field  string
	Text   string
	Refers entry.RecordID
	// Wrong says what is wrong and what to do; empty if nothing is.
	Wrong string
}

// TableOutline says what a table holds, to choose a sheet and place its columns.
type TableOutline struct {
	Sheets  []string // of a workbook
	Sheet   string   // the one that was read
	Columns []TableColumn
	Rows    int
	// Fields are those that a column may hold.
	Fields []string
}

// TableColumn is one column: its head, the field that this names by itself, and
// what stands in its first rows.
type TableColumn struct {
	Head, Field string
	Samples     []string
}

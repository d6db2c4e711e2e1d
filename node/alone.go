package node

import (
	"cmp"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Alone is what one laptop wrote before it joined a staff (ledger rule 33).
type Alone struct {
	// Staff and Person are called as they were alone.
	Staff, Person string
	// Taken goes along, Left doesn't: only a director may write it.
	Taken, Left []Amount
	// Kept is the folder in which the ledger stays as it was.
	Kept string
}

// Amount is how many records of a kind there are, those that are retired too.
type Amount struct {
	Kind    string `json:"kind"`
	Records int    `json:"records"`
	Retired int    `json:"retired,omitempty"`
}

// Alone says what this laptop would take along into another staff. What is left
// behind goes too if the laptop is let in as a director's. It refuses where there
// is nothing, and where others have a part in the ledger.
func (n *Node) Alone(ctx context.Context) (Alone, error) {
	person, err := n.writtenBy()
	if err != nil {
		return Alone{}, err
	}
	r := n.reader(ctx)
	a := Alone{Staff: r.shownText(staffRecord(n.store.Staff()), "name"), Person: r.personName(person), Kept: keptFolder(n.cfg.Data)}
	a.Taken, a.Left, err = amounts(ctx, n.store, func(id entry.RecordID) bool {
		return merge.MayWrite(entry.Certificate{Person: person, Role: entry.RoleScout}, id)
	})
	return a, cmp.Or(err, r.err)
}

// writtenBy returns the one person of a ledger that one laptop wrote alone. A
// restored copy of such a ledger is as good.
func (n *Node) writtenBy() (entry.PersonID, error) {
	var none entry.PersonID
	if err := n.staffed(); err != nil {
		return none, err
	}
	v := n.store.Verdict()
	devices := map[entry.DeviceID]entry.PersonID{}
	for _, c := range v.Grants {
		devices[entry.DeviceOf(c.Device)] = c.Person
	}
	switch {
	case n.store.Blocked():
		return none, refuse(ErrNewer, "a newer plumbline wrote to %s: update this one first, then its records can be taken along", n.cfg.Data)
	case len(devices) != 1:
		return none, refuse(ErrHasStaff, "the staff in %s has let in %d laptops: only what one laptop wrote alone is taken along into another staff. "+
			"Join that one with other folders, named by --data and --state; plumbline export saves lists that plumbline import reads there", n.cfg.Data, len(devices))
	case len(n.forks()) > 0:
		return none, refuse(ErrHasStaff, "the disk of this laptop was copied, and both copies wrote to the ledger in %s: which of the two is to be taken along, nobody can tell. "+
			"Join with other folders, named by --data and --state; plumbline export saves lists that plumbline import reads there", n.cfg.Data)
	}
	for _, person := range devices {
		none = person
	}
	return none, nil
}

// ofItsStaff are the kinds that say who the people of a staff are. The other staff
// says that itself.
var ofItsStaff = []entry.Kind{record.Staff, record.Person, record.Device}

// amounts counts a ledger's records by kind: those that go along, and those that
// don't.
func amounts(ctx context.Context, of *storage.Store, goes func(entry.RecordID) bool) (taken, left []Amount, err error) {
	for row, err := range of.Records(ctx, storage.Query{Hidden: true}) {
		switch {
		case err != nil:
			return nil, nil, failure(err)
		case slices.Contains(ofItsStaff, row.ID.Kind()):
		case goes(row.ID):
			taken = counting(taken, row)
		default:
			left = counting(left, row)
		}
	}
	return taken, left, nil
}

func counting(amounts []Amount, row storage.Row) []Amount {
	kind := kindName(row.ID)
	i := slices.IndexFunc(amounts, func(a Amount) bool { return a.Kind == kind })
	if i < 0 {
		i, amounts = len(amounts), append(amounts, Amount{Kind: kind})
	}
	amounts[i].Records++
	if !shown(row) {
		amounts[i].Retired++
	}
	return amounts
}

// takenAlong is what a laptop remembers of what it wrote alone.
type takenAlong struct {
	Staff  string   `json:"staff,omitempty"`
	Person string   `json:"person,omitempty"`
	Taken  []Amount `json:"taken,omitempty"`
	Left   []Amount `json:"left,omitempty"`
}

const aloneMeta = "alone"

// wroteAlone tells what this laptop took along when it joined, as long as it still
// keeps the ledger from before; nil if it took nothing.
func (n *Node) wroteAlone(ctx context.Context) *Alone {
	var t takenAlong
	data, err := n.store.Meta(ctx, aloneMeta)
	if err != nil || len(data) == 0 || json.Unmarshal(data, &t) != nil {
		return nil
	}
	kept := lastKept(n.cfg.Data)
	if kept == "" {
		return nil
	}
	return &Alone{Staff: t.Staff, Person: t.Person, Taken: t.Taken, Left: t.Left, Kept: kept}
}

// The ledger from before stays in the data folder, as a data folder of its own: a
// backup that any command reads with --data.
const keptName = "alone"

// keptFolder is where it will be kept.
func keptFolder(data string) string {
	folder, _ := keptFolders(data)
	return folder
}

// lastKept is where it is kept; empty if there is none.
func lastKept(data string) string {
	_, folder := keptFolders(data)
	return folder
}

// keptFolders returns the first folder that is free and the last one that isn't.
func keptFolders(data string) (free, taken string) {
	for i := 1; ; i++ {
		folder := filepath.Join(data, keptName)
		if i > 1 {
			folder += "-" + strconv.Itoa(i)
		}
		if _, err := os.Stat(filepath.Join(folder, databaseFile)); err != nil {
			return folder, taken
		}
		taken = folder
	}
}

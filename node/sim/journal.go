package sim

import (
	"slices"
	"strings"

	"plumbline/storage"
	"plumbline/sync/entry"
	"plumbline/sync/merge/mergetest"
)

// journal is a disk of memory: records of transactions, of which only those that
// were synced are sure to outlive a loss of power.
type journal struct {
	written *written
	records []transaction
	synced  int
	left    bool // the last record was refused when it was synced
	faults  faults
}

// transaction is runs of entries, or a value beside them.
type transaction struct {
	runs  []entry.Run
	key   string
	value []byte
}

func newJournal(w *written, c Counts) *journal { return &journal{written: w, faults: faults{count: c}} }

// write puts a record on its way and syncs it. The power may fail before,
// between and after.
func (j *journal) write(r transaction) {
	if j.faults.moment("before write") {
		panic(died{})
	}
	j.forget()
	j.records = append(slices.Clip(j.records), r)
	if j.faults.moment("unsynced") {
		panic(died{})
	}
	j.synced = len(j.records)
	if j.faults.moment("synced") {
		panic(died{})
	}
}

// leave puts a record on its way that isn't synced: the store goes on without it.
func (j *journal) leave(r transaction) {
	j.forget()
	j.records, j.left = append(slices.Clip(j.records), r), true
}

// forget drops what was left: the next write lies where it lay.
func (j *journal) forget() {
	if j.left {
		j.records, j.left = j.records[:j.synced], false
	}
}

// Open replays the journal.
func (j *journal) Open(staff entry.StaffID) (Store, error) {
	world := &mergetest.World{Staff: staff}
	m := newMemory(j, world)
	var facts []*mergetest.Fact
	for _, r := range j.records {
		if r.runs == nil {
			m.meta[r.key] = r.value
			continue
		}
		_, news, err := m.take(r.runs)
		if err != nil {
			return nil, err
		}
		facts = append(facts, news...)
	}
	m.lap.Learn(facts...)
	return m, nil
}

// Die keeps what was synced, and perhaps a record that wasn't.
func (j *journal) Die(d *dice) error {
	if unsynced := len(j.records) - j.synced; unsynced > 0 {
		kept := d.IntN(unsynced + 1)
		if kept < unsynced {
			j.faults.count.add("torn write")
		} else if j.left {
			j.faults.count.add(unconfirmed)
		}
		j.records = j.records[:j.synced+kept]
	}
	j.synced, j.left = len(j.records), false
	j.faults.crash = 0
	return nil
}

// Lie cuts the journal anywhere.
func (j *journal) Lie(d *dice) error {
	j.records = j.records[:d.IntN(len(j.records)+1)]
	j.synced = len(j.records)
	return nil
}

// Copy implements [Disk].
func (j *journal) Copy() (Disk, error) {
	c := *j
	c.faults = faults{count: j.faults.count}
	c.records = slices.Clone(j.records)
	c.forget()
	return &c, nil
}

// Backup leaves out what must not leave the laptop.
func (j *journal) Backup() (Disk, error) {
	c := *j
	c.faults = faults{count: j.faults.count}
	c.records = nil
	for _, r := range j.records[:j.synced] {
		if r.runs != nil || !strings.HasPrefix(r.key, storage.Secret) {
			c.records = append(c.records, r)
		}
	}
	c.synced, c.left = len(c.records), false
	return &c, nil
}

// Faults implements [Disk].
func (j *journal) Faults() *faults { return &j.faults }

// Gone implements [Disk].
func (j *journal) Gone() { j.records, j.synced = nil, 0 }

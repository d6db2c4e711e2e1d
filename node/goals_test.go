package node

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"plumbline/sync/entry"
)

// The goals in numbers, each with its baseline from the same run, as rows of
// one table. `.ci/goals` runs them all and prints it. Names are invented.

const goalLogs = 8

// goalEntries is how many entries of some 230 bytes a laptop holds.
func goalEntries(b *testing.B) int {
	n, err := strconv.Atoi(os.Getenv("PLUMBLINE_ENTRIES"))
	if err != nil {
		return 100_000
	}
	return n
}

// goal prints one row of the table.
func goal(what, goal, figure, baseline, ratio string) {
	fmt.Printf("| %s | %s | %s | %s | %s |\n", what, goal, figure, baseline, ratio)
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

func millis(d time.Duration) string { return fmt.Sprintf("%.2f ms", float64(d.Microseconds())/1000) }

func times(a, b time.Duration) string { return fmt.Sprintf("%.2f ×", float64(a)/float64(b)) }

// at returns the value below which so many hundredths lie.
func at(hundredths int, all []time.Duration) time.Duration {
	slices.Sort(all)
	return all[min(len(all)*hundredths/100, len(all)-1)]
}

// BenchmarkGoalCatchUp lets an empty laptop, a process of its own, pull all
// that another one holds over a real link, then fall behind and catch up again,
// open, and idle.
//
//	go test -run '^$' -bench GoalCatchUp -benchtime 1x ./node
func BenchmarkGoalCatchUp(b *testing.B) {
	entries := goalEntries(b)
	director := season(b, entries)
	newcomer := newLaptop(b, "Pia Norrland")
	pair(b, director, newcomer, newcomer.name, false)
	newcomer.stopNow()
	held := strconv.Itoa(entries)
	untilCalm() // what the other laptop works out ahead is neither the newcomer's nor the baseline's
	empty := follow(b, director, newcomer, 0, firstList)
	bareWall, bareCPU := bareInsert(b, director)
	goal("empty laptop, "+held+" entries, verified and merged: time", "at most 3 × bare insert", seconds(empty.Wall), seconds(bareWall), times(empty.Wall, bareWall))
	goal("the same: processor", "at most 3 × bare insert", seconds(empty.CPU), seconds(bareCPU), times(empty.CPU, bareCPU))
	goal("the same with the first list", "under 2 s at 100000", seconds(empty.Wall+empty.Query)+", processor "+seconds(empty.CPU+empty.QueryCPU), "", "")
	goal("the same: most anonymous memory", "under 128 MiB", mebibytes(empty.Anonymous), "", "")
	for _, behind := range []struct {
		entries int
		goal    string
	}{{1000, "under 0.15 s"}, {10_000, "under 1 s"}} {
		director.restart()
		chart(b, director.Node, 100+behind.entries, behind.entries)
		got := follow(b, director, newcomer, 0, firstList)
		goal(strconv.Itoa(behind.entries)+" entries behind of "+held, behind.goal, seconds(got.Wall)+", processor "+seconds(got.CPU), "", "")
	}
	director.stopNow()
	open := runChild(b, order{Data: newcomer.cfg.Data, State: newcomer.cfg.State, Idle: 10 * time.Second})
	goal("open a laptop with "+held+" entries to the first answer", "under 300 ms", millis(open.Open), "", "")
	goal("the same: worked out ahead for the next questions", "", seconds(open.Tidy)+", processor "+seconds(open.TidyCPU), "", "")
	goal("idle with "+held+" entries: anonymous memory", "under 80 MiB", mebibytes(open.Resident), "", "")
	goal("idle with "+held+" entries: processor", "under 0.5 % of a core", fmt.Sprintf("%.2f %%", float64(open.Idle)/1e8), "", "")
	b.ReportMetric(0, "ns/op")
}

func mebibytes(n int64) string { return fmt.Sprintf("%.0f MiB", float64(n)/(1<<20)) }

// follow lets a laptop catch up with another one, and asks it a first question.
func follow(b *testing.B, from, to *laptop, idle time.Duration, first string) caughtUp {
	b.Helper()
	status, err := from.Status(b.Context())
	require.NoError(b, err)
	return runChild(b, order{to.cfg.Data, to.cfg.State, from.mesh.Address().String(), status.Entries, idle, first})
}

// season founds a staff and charts reps into several logs: a laptop that finds
// no token, as after a crash, opens another one.
func season(b *testing.B, reps int) *laptop {
	b.Helper()
	l := found(b)
	for i := range goalLogs {
		l.alone()
		chart(b, l.Node, i, reps/goalLogs)
		l.stopNow()
		require.NoError(b, os.Remove(filepath.Join(l.cfg.State, tokenFile)))
	}
	l.restart()
	return l
}

// chart writes reps of about 230 bytes an entry, 200 to a look.
func chart(b *testing.B, n *Node, scout, reps int) {
	b.Helper()
	var look entry.RecordID
	var writes []Write
	flush := func() {
		if len(writes) > 0 {
			_, err := n.Write(b.Context(), writes)
			require.NoError(b, err)
			writes = writes[:0]
		}
	}
	one := func(kind string, fields ...string) entry.RecordID {
		ids, err := n.Write(b.Context(), []Write{{Kind: kind, Sets: sets(fields)}})
		require.NoError(b, err)
		return ids[0]
	}
	for i := range reps {
		if i%200 == 0 {
			flush()
			p := one("prospect", "name", fmt.Sprintf("Orrin Vale %d-%d", scout, i/200), "position", "tackle")
			look = one("look", "prospect", p.String(), "mode", "film")
		}
		result := []string{"won", "won", "even", "lost"}[i%4]
		writes = append(writes, Write{Kind: "rep", Sets: sets([]string{
			"look", look.String(), "number", strconv.Itoa(i%200 + 1), "quarter", strconv.Itoa(i%4 + 1), "down", "2",
			"play", "pass", "result", result, "observations", "late with the inside hand, base narrow at the top",
		})})
		if len(writes) == 5000 {
			flush()
		}
	}
	flush()
}

// bareInsert writes the rows of the entries that a laptop holds into one plain
// table, in transactions of 4 MiB, and says how long that took.
func bareInsert(b *testing.B, l *laptop) (wall, cpu time.Duration) {
	b.Helper()
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db"))
	require.NoError(b, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA cache_size=-65536; CREATE TABLE entry (n INTEGER PRIMARY KEY,
		hash BLOB, record INTEGER, status INTEGER, kind INTEGER, lamport INTEGER, header BLOB, body BLOB)`)
	require.NoError(b, err)
	hash := make([]byte, 32)
	for log, tip := range l.store.Tips() {
		after := entry.Point{}
		for after.Seq < tip.Seq {
			raws, points, err := l.store.Range(tip.Log, after, tip.Point, 4<<20)
			require.NoError(b, err)
			began, used := time.Now(), cpuTime()
			tx, err := db.Begin()
			require.NoError(b, err)
			insert, err := tx.Prepare(`INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)`)
			require.NoError(b, err)
			for i, raw := range raws {
				seq := int64(after.Seq) + int64(i) + 1
				_, err := insert.Exec(int64(log)<<40|seq, hash, seq, 1, 2, seq, raw.Header, raw.Body)
				require.NoError(b, err)
			}
			require.NoError(b, tx.Commit())
			wall, cpu = wall+time.Since(began), cpu+cpuTime()-used
			after = points[len(points)-1].Point
		}
	}
	return wall, cpu
}

// BenchmarkGoalVisible saves one value on a laptop and waits until another one
// has it durable and shows it, again and again.
func BenchmarkGoalVisible(b *testing.B) {
	a := found(b)
	c := join(b, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale")
	connect(b, a, c)
	changes := make(chan uint64, 64)
	go func() {
		for change := range c.Watch(b.Context()) {
			changes <- change.Entries
		}
	}()
	var visible, beyond, bare []time.Duration
	commit := bareCommit(b)
	for i := range 300 {
		write := []Write{{Record: id.String(), Sets: []Set{{Field: "note", Text: "remark " + strconv.Itoa(i), Seen: a.seen(id, "note")}}}}
		before, err := c.store.Counts(b.Context())
		require.NoError(b, err)
		began := time.Now()
		_, err = a.Write(b.Context(), write)
		require.NoError(b, err)
		saved := time.Since(began)
		for entries := range changes {
			if entries > uint64(before.Entries) {
				break
			}
		}
		visible, beyond = append(visible, time.Since(began)), append(beyond, time.Since(began)-saved)
		bare = append(bare, commit())
	}
	goal("one entry durable on both: median", "under 3 ms", millis(at(50, visible)), millis(at(50, bare))+" bare commit", times(at(50, visible), at(50, bare)))
	goal("one entry durable on both: p99", "under 8 ms", millis(at(99, visible)), millis(at(99, bare))+" bare commit", times(at(99, visible), at(99, bare)))
	goal("visible on B beyond A's commit: median", "under 5 ms", millis(at(50, beyond)), "", "")
	goal("visible on B beyond A's commit: p99", "under 25 ms", millis(at(99, beyond)), "", "")
	b.ReportMetric(0, "ns/op")
}

// bareCommit returns a function that stores a row of 230 bytes durably, and says
// how long that took.
func bareCommit(b *testing.B) func() time.Duration {
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db"))
	require.NoError(b, err)
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE entry (n INTEGER PRIMARY KEY, body BLOB)`)
	require.NoError(b, err)
	insert, err := db.Prepare(`INSERT INTO entry (body) VALUES (?)`)
	require.NoError(b, err)
	body := make([]byte, 230)
	return func() time.Duration {
		began := time.Now()
		_, err := insert.Exec(body)
		require.NoError(b, err)
		return time.Since(began)
	}
}

func (l *laptop) seen(id entry.RecordID, field string) (seen []string) {
	for _, v := range l.field(id, field).Values {
		seen = append(seen, v.ID.String())
	}
	return seen
}

// BenchmarkGoalConflicts lets two laptops that don't hear of each other edit the
// same 2,000 fields, and waits until both list every value that lost.
func BenchmarkGoalConflicts(b *testing.B) {
	const fields = 2000
	a := found(b)
	c := join(b, a, "Tove Lund", false)
	var adds []Write
	for i := range fields {
		adds = append(adds, Write{Kind: "prospect", Sets: sets([]string{"name", fmt.Sprint("Orrin Vale ", i), "note", "before"})})
	}
	ids, err := a.Write(b.Context(), adds)
	require.NoError(b, err)
	connect(b, a, c)
	a.alone()
	c.alone()
	for _, l := range []*laptop{a, c} {
		var edits []Write
		for _, id := range ids {
			edits = append(edits, Write{Record: id.String(), Sets: []Set{{Field: "note", Text: "as " + l.name + " saw it", Seen: l.seen(id, "note")}}})
		}
		_, err := l.Write(b.Context(), edits)
		require.NoError(b, err)
		l.restart()
	}
	began := time.Now()
	require.NoError(b, c.Connect(b.Context(), loopback([]string{a.mesh.Address().String()})))
	for _, l := range []*laptop{a, c} {
		for change := range l.Watch(b.Context()) {
			_ = change
			if counts, err := l.store.Counts(b.Context()); err != nil || counts.Conflicted == fields {
				break
			}
		}
	}
	merged := time.Since(began)
	for _, l := range []*laptop{a, c} {
		conflicts, err := l.Conflicts(b.Context(), "")
		require.NoError(b, err)
		lost := 0
		for _, one := range conflicts {
			lost += len(one.Field.Values) - 1
		}
		require.Equal(b, fields, lost)
	}
	goal("2000 fields edited on both sides, merged", "under 0.3 s", seconds(merged), "", "")
	goal("the same, every value that lost listed on both", "under 0.3 s", seconds(time.Since(began)), "", "")
	b.ReportMetric(0, "ns/op")
}

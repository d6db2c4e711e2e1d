package node

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"plumbline/sync/entry"
)

// The benchmarks run whole nodes over real links. A laptop that catches up is
// a process of its own, so that its time and memory are its own too:
//
//	go test -run '^$' -bench . -benchtime 1x ./node
//
// Each reports its baseline from the same run. Data is invented.

const (
	benchLogs    = 8
	benchEntries = 100_000
)

// childVar tells a process of the test binary that it is the laptop that
// catches up.
const childVar = "PLUMBLINE_BENCH_LAPTOP"

func TestMain(m *testing.M) {
	if order := os.Getenv(childVar); order != "" {
		if err := catchUp(order); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// order is what the process that catches up is told.
type order struct {
	Data, State, Address string
	Entries              uint64
}

// caughtUp is what it found.
type caughtUp struct {
	Wall, CPU, Query time.Duration
	Anonymous        int64 // most anonymous memory resident, bytes
	Rows             int
}

func catchUp(text string) error {
	var o order
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		return err
	}
	ctx := context.Background()
	n, err := Open(ctx, Config{Data: o.Data, State: o.State, Links: &Links{Host: "127.0.0.1", Port: -1}})
	if err != nil {
		return err
	}
	defer n.Close()
	began, cpu := time.Now(), cpuTime()
	if err := n.Connect(ctx, o.Address); err != nil {
		return err
	}
	var got caughtUp
	for c := range n.Watch(ctx) {
		got.Anonymous = max(got.Anonymous, anonymous())
		if c.Entries >= o.Entries {
			break
		}
	}
	got.Wall, got.CPU = time.Since(began), cpuTime()-cpu
	asked := time.Now()
	l, err := n.List(ctx, ListQuery{Where: "reps > 10 && won_share > 0.3"})
	if err != nil {
		return err
	}
	got.Query, got.Rows = time.Since(asked), len(l.Rows)
	got.Anonymous = max(got.Anonymous, anonymous())
	return json.NewEncoder(os.Stdout).Encode(got)
}

// anonymous reads how much memory of the process is resident and no file's.
func anonymous() int64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0 // not on this system
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "RssAnon:"); ok {
			kib, _ := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")), 10, 64)
			return kib << 10
		}
	}
	return 0
}

// BenchmarkCatchUp lets an empty laptop pull 100,000 reps in 8 logs over a
// real link: verified, folded and queryable.
func BenchmarkCatchUp(b *testing.B) {
	director := season(b, benchEntries)
	status, err := director.Status(b.Context())
	require.NoError(b, err)
	var sum caughtUp
	var bare time.Duration
	for range b.N {
		newcomer := newLaptop(b, "Pia Norrland")
		pair(b, director, newcomer, newcomer.name, false)
		status, err = director.Status(b.Context())
		require.NoError(b, err)
		newcomer.stopNow()
		got := runChild(b, order{newcomer.cfg.Data, newcomer.cfg.State, director.mesh.Address().String(), status.Entries})
		sum.Wall += got.Wall
		sum.CPU += got.CPU
		sum.Query += got.Query
		sum.Anonymous = max(sum.Anonymous, got.Anonymous)
		bare += bareInsert(b, director)
	}
	n := float64(b.N)
	b.ReportMetric(sum.Wall.Seconds()/n, "caught-up-s")
	b.ReportMetric(sum.CPU.Seconds()/n, "cpu-s")
	b.ReportMetric(sum.Query.Seconds()/n, "first-list-s")
	b.ReportMetric(bare.Seconds()/n, "bare-insert-s")
	b.ReportMetric(sum.Wall.Seconds()/bare.Seconds(), "x-bare-insert")
	b.ReportMetric(float64(sum.Anonymous)/(1<<20), "peak-anon-MiB")
	b.ReportMetric(0, "ns/op")
}

func runChild(b *testing.B, o order) caughtUp {
	b.Helper()
	text, err := json.Marshal(o)
	require.NoError(b, err)
	cmd := exec.CommandContext(b.Context(), os.Args[0])
	cmd.Env, cmd.Stderr = append(os.Environ(), childVar+"="+string(text)), os.Stderr
	out, err := cmd.Output()
	require.NoError(b, err)
	var got caughtUp
	require.NoError(b, json.Unmarshal(out, &got))
	return got
}

// season makes a staff of eight, of which each charts an eighth of the reps.
func season(b *testing.B, reps int) *laptop {
	b.Helper()
	director := found(b)
	laptops := []*laptop{director}
	for i := 1; i < benchLogs; i++ {
		laptops = append(laptops, join(b, director, fmt.Sprintf("Scout %c", 'A'+i), false))
	}
	for i, l := range laptops {
		l.alone()
		chart(b, l, i, reps/benchLogs)
	}
	director.restart()
	for _, l := range laptops[1:] {
		l.restart()
		connect(b, director, l)
		l.stopNow()
	}
	return director
}

// chart writes reps of about 230 bytes an entry, 200 to a look.
func chart(b *testing.B, l *laptop, scout, reps int) {
	b.Helper()
	var look entry.RecordID
	var writes []Write
	flush := func() {
		if len(writes) > 0 {
			_, err := l.Write(b.Context(), writes)
			require.NoError(b, err)
			writes = writes[:0]
		}
	}
	for i := range reps {
		if i%200 == 0 {
			flush()
			p := l.add("prospect", "name", fmt.Sprintf("Orrin Vale %d-%d", scout, i/200), "position", "tackle")
			look = l.add("look", "prospect", p.String(), "mode", "film")
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

// bareInsert writes the same rows into one plain table, in transactions of the
// same size, and says how long that took.
func bareInsert(b *testing.B, l *laptop) time.Duration {
	b.Helper()
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db"))
	require.NoError(b, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA cache_size=-65536; CREATE TABLE entry (log BLOB, seq INTEGER, header BLOB, body BLOB, PRIMARY KEY (log, seq))`)
	require.NoError(b, err)
	var took time.Duration
	for _, tip := range l.store.Tips() {
		after := entry.Point{}
		for after.Seq < tip.Seq {
			raws, points, err := l.store.Range(tip.Log, after, tip.Point, 4<<20)
			require.NoError(b, err)
			began := time.Now()
			tx, err := db.Begin()
			require.NoError(b, err)
			insert, err := tx.Prepare(`INSERT INTO entry VALUES (?, ?, ?, ?)`)
			require.NoError(b, err)
			for i, raw := range raws {
				_, err := insert.Exec(tip.Log[:], int64(after.Seq)+int64(i)+1, raw.Header, raw.Body)
				require.NoError(b, err)
			}
			require.NoError(b, tx.Commit())
			took += time.Since(began)
			after = points[len(points)-1].Point
		}
	}
	runtime.GC()
	return took
}

// BenchmarkSave saves one rep, durable, against one bare durable commit.
func BenchmarkSave(b *testing.B) {
	l := found(b)
	p := l.add("prospect", "name", "Orrin Vale")
	look := l.add("look", "prospect", p.String(), "mode", "film")
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db"))
	require.NoError(b, err)
	defer db.Close()
	_, err = db.Exec(`PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE entry (n INTEGER PRIMARY KEY, body BLOB)`)
	require.NoError(b, err)
	var saved, bare time.Duration
	body := make([]byte, 230)
	for i := 0; b.Loop(); i++ {
		began := time.Now()
		l.add("rep", "look", look.String(), "number", strconv.Itoa(i%9999+1), "result", "won")
		saved += time.Since(began)
		began = time.Now()
		_, err := db.Exec(`INSERT INTO entry (body) VALUES (?)`, body)
		bare += time.Since(began)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(saved.Microseconds())/float64(b.N), "saved-µs")
	b.ReportMetric(float64(bare.Microseconds())/float64(b.N), "bare-commit-µs")
	b.ReportMetric(saved.Seconds()/bare.Seconds(), "x-bare-commit")
}

// BenchmarkVisible saves one value on a laptop and waits until another one has
// it durable and shows it.
func BenchmarkVisible(b *testing.B) {
	a := found(b)
	c := join(b, a, "Tove Lund", false)
	id := a.add("prospect", "name", "Orrin Vale")
	connect(b, a, c)
	ctx, cancel := context.WithCancel(b.Context())
	defer cancel()
	seen := make(chan uint64, 64)
	go func() {
		for change := range c.Watch(ctx) {
			seen <- change.Entries
		}
	}()
	for i := 0; b.Loop(); i++ {
		a.set(id, "note", "remark "+strconv.Itoa(i))
		s, err := a.store.Counts(b.Context())
		require.NoError(b, err)
		for entries := range seen {
			if entries >= uint64(s.Entries) {
				break
			}
		}
	}
}

// BenchmarkLinkUp starts three laptops of one staff and waits until each is
// linked with both others and holds the same.
func BenchmarkLinkUp(b *testing.B) {
	a := found(b)
	laptops := []*laptop{a, join(b, a, "Tove Lund", false), join(b, a, "Ilse Brandt", false)}
	connect(b, laptops[0], laptops[1])
	connect(b, laptops[0], laptops[2])
	connect(b, laptops[1], laptops[2])
	for b.Loop() {
		b.StopTimer()
		for _, l := range laptops {
			l.stopNow()
		}
		b.StartTimer()
		for _, l := range laptops {
			l.restart()
		}
		require.NoError(b, laptops[1].Connect(b.Context(), laptops[0].mesh.Address().String()))
		require.NoError(b, laptops[2].Connect(b.Context(), laptops[0].mesh.Address().String()))
		require.NoError(b, laptops[2].Connect(b.Context(), laptops[1].mesh.Address().String()))
		for _, l := range laptops {
			for len(l.linked()) < 2 {
				time.Sleep(time.Millisecond)
			}
		}
		agree(b, laptops...)
	}
}

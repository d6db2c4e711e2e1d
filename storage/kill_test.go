package storage

import (
	"context"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"testing/fstest"
	"time"
)

// Names of variables: which database a process of this test opens, and how many
// processes are killed in all the project's tests together.
const (
	openName  = "PLUMBLINE_TEST_OPEN"
	killsName = "PLUMBLINE_TEST_KILLS"
)

// TestMain lets this program stand for a newer one that opens a database: it
// has one schema step more and derives other things.
func TestMain(m *testing.M) {
	path := os.Getenv(openName)
	if path == "" {
		os.Exit(m.Run())
	}
	steps = withAStepMore()
	s, err := Open(context.Background(), path, Options{Projector: projector{version: 7}})
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// withAStepMore adds a step that touches every entry.
func withAStepMore() fs.FS {
	more := fstest.MapFS{"schema/9-lengths.sql": {Data: []byte(
		"CREATE TABLE length (n INTEGER PRIMARY KEY, bytes INTEGER NOT NULL);\n" +
			"INSERT INTO length SELECT n, length(header) + length(body) FROM entry;\n" +
			"CREATE INDEX length_bytes ON length (bytes)")}}
	names, err := fs.Glob(schema, "schema/*.sql")
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		data, err := schema.ReadFile(name)
		if err != nil {
			panic(err)
		}
		more[name] = &fstest.MapFile{Data: data}
	}
	return more
}

// TestKilledInASchemaStep kills a newer program at random moments while it
// takes a schema step and builds the derived tables anew. The next one that
// opens the database does the rest by itself.
func TestKilledInASchemaStep(t *testing.T) {
	w := newWorld(21)
	l := w.Scout(w.Root, 1)
	const entries = 4000
	for i := range entries {
		l.Write(prospect(byte(i)), value(1, fmt.Sprint("words of ", i)))
	}
	old := storeOf(t, w)
	old.append(t, all(w)...)
	hash, held := old.StateHash(), entriesHeld(old)
	check(t, old.Close())
	whole := opened(t, old.path)
	began := time.Now()
	if out, err := whole.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	takes := time.Since(began)

	steps = withAStepMore()
	t.Cleanup(func() { steps = schema })
	found := map[int]int{}
	for range kills(t, 3) {
		cmd := opened(t, old.path)
		path := pathOf(cmd)
		check(t, cmd.Start())
		<-time.After(rand.N(takes)) // the random moment
		_ = cmd.Process.Kill()      // it may have ended by itself
		_ = cmd.Wait()
		found[versionOf(t, path)]++
		s := openAt(t, path, Options{Staff: w.Staff, Projector: projector{version: 7}})
		report, err := s.Verify(context.Background(), nil)
		if err != nil || len(report.Faults) > 0 || s.StateHash() != hash || entriesHeld(s) != held {
			t.Errorf("%+v, %v, state %v, want %v", report, err, s.StateHash(), hash)
		}
		var rows int
		if _, err := querier(s.writer.query).one("SELECT count(*) FROM length", nil, &rows); err != nil || rows != held {
			t.Errorf("the step has made %d rows of %d, %v", rows, held, err)
		}
		check(t, s.Close())
	}
	t.Logf("after the kills the tables stood at these steps: %v", found)
}

// opened is a newer program about to open a copy of a database.
func opened(t *testing.T, database string) *exec.Cmd {
	t.Helper()
	data, err := os.ReadFile(database)
	check(t, err)
	path := filepath.Join(t.TempDir(), "plumbline.db")
	check(t, os.WriteFile(path, data, 0o600))
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), openName+"="+path)
	return cmd
}

func pathOf(cmd *exec.Cmd) string {
	return cmd.Env[len(cmd.Env)-1][len(openName+"="):]
}

func versionOf(t *testing.T, path string) int {
	t.Helper()
	c, err := openConnection(context.Background(), path, nil, false)
	check(t, err)
	version, err := c.schemaVersion()
	check(t, err)
	check(t, c.close())
	return version
}

// kills is how many of twenty parts of all kills fall to one test.
func kills(t *testing.T, parts int) int {
	t.Helper()
	all := 30
	if given := os.Getenv(killsName); given != "" {
		var err error
		if all, err = strconv.Atoi(given); err != nil {
			t.Fatalf("%s: %v", killsName, err)
		}
	}
	return max(1, all*parts/20)
}

package storage

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestCommitsWriteOverRoom lets a store come to rest, and holds that commits then
// make no file longer, also once they had used up what there was; and that the
// files hold everything as a crash would leave them.
func TestCommitsWriteOverRoom(t *testing.T) {
	w := newWorld(5)
	s := storeOf(t, w)
	a := w.Scout(w.Root, 1)
	stored := 0
	write := func(entries, size int) {
		t.Helper()
		for range entries {
			a.Write(prospect(byte(stored%40)), value(1, strings.Repeat("elm ", size/4)))
			s.append(t, since(w, stored)...)
			stored = len(w.Facts)
		}
	}
	length := func() int64 {
		t.Helper()
		info, err := os.Stat(s.path + "-wal")
		check(t, err)
		return info.Size()
	}
	survives := func() {
		t.Helper()
		path := filepath.Join(t.TempDir(), "crashed.db")
		for _, end := range []string{"", logEnd} {
			data, err := os.ReadFile(s.path + end)
			check(t, err)
			check(t, os.WriteFile(path+end, data, 0o600))
		}
		crashed := openAt(t, path, Options{Projector: projector{}})
		same(t, "after a crash", crashed.dump(t), s.dump(t))
	}
	rest := func() {
		t.Helper()
		for more := true; more; {
			var err error
			more, err = s.MakeRoom(t.Context())
			check(t, err)
		}
	}
	write(3, 100)
	rest()
	if got := length(); got != roomSize {
		t.Fatalf("%d bytes of room, want %d", got, roomSize)
	}
	write(20, 100)
	if got := length(); got != roomSize {
		t.Errorf("commits made %d bytes of %d", got, roomSize)
	}
	survives()
	write(roomSize/40_000, 40_000)
	long := length()
	if long <= roomSize {
		t.Fatalf("%d bytes of entries fit into %d", roomSize, long)
	}
	rest()
	write(20, 100)
	if got := length(); got != long {
		t.Errorf("commits made %d bytes of %d", got, long)
	}
	survives()
	check(t, s.Close())
	if left, err := filepath.Glob(s.path + "-*"); err != nil || len(left) > 0 {
		t.Errorf("%q lie beside the closed file, %v", left, err)
	}
}

package storage

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestDriverIsSound holds the driver against two things known of it: SQLite
// before 3.51.3 can damage a database in write-ahead mode (its release notes
// tell of the fix), and the translated C library works only in the version
// that the driver was built with (its own go.mod names it).
func TestDriverIsSound(t *testing.T) {
	s := storeOf(t, newWorld(23))
	var version string
	_, err := s.reader().one("SELECT sqlite_version()", nil, &version)
	check(t, err)
	var have, want [3]int
	for i, part := range strings.SplitN(version, ".", 3) {
		for _, digit := range part {
			have[i] = have[i]*10 + int(digit-'0')
		}
	}
	want = [3]int{3, 51, 3}
	if have[0] < want[0] || have[0] == want[0] && (have[1] < want[1] || have[1] == want[1] && have[2] < want[2]) {
		t.Errorf("SQLite %s, at least 3.51.3", version)
	}
	ours := strings.TrimSpace(list(t, "{{.Version}}", "modernc.org/libc"))
	named, err := os.ReadFile(strings.TrimSpace(list(t, "{{.GoMod}}", "modernc.org/sqlite")))
	check(t, err)
	if !strings.Contains(string(named), "modernc.org/libc "+ours+"\n") {
		t.Errorf("modernc.org/libc is %s; the driver's own go.mod names another one", ours)
	}
}

func list(t *testing.T, format, module string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", format, module).Output()
	if err != nil {
		t.Fatalf("go list %s: %v", module, err)
	}
	return string(out)
}

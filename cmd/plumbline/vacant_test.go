package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// looking is every command in a folder where nothing is, but for those by which
// something comes to be there; "" is for a command that does what it is for.
var looking = map[string]struct{ args, says string }{
	"list": {"list", "no staff"}, "show": {"show Orrin", "no staff"}, "add": {"add prospect name=Orrin", "no staff"},
	"set": {"set Orrin jersey=7", "no staff"}, "file": {"file Orrin", "no staff"}, "retire": {"retire Orrin --dry-run", "no staff"},
	"keep": {"keep Orrin", "no staff"}, "import": {"import prospect TABLE", "no staff"}, "export": {"export --output list.csv", "no staff"},
	"conflicts": {"conflicts", "no staff"}, "settle": {"settle Orrin jersey --value 7", "no staff"}, "doubles": {"doubles", "no staff"},
	"same": {"same Orrin Wes", "no staff"}, "aside": {"aside", "no staff"}, "accept": {"accept Orrin --dry-run", "no staff"},
	"invite": {"invite Orrin", "no staff"}, "roster": {"roster", "no staff"}, "promote": {"promote Orrin", "no staff"},
	"revoke": {"revoke Orrin --yes", "no staff"}, "connect": {"connect 127.0.0.1:9", "no staff"}, "verify": {"verify", "no staff"},
	"backup": {"backup copy", "no staff"}, "open": {"open --print", "no node runs"},
	"fields": {"fields prospect", ""}, "status": {"status", ""}, "version": {"version", ""}, "completion": {"completion bash", ""}, "help": {"help list", ""},
}

// TestLookingAroundLeavesNothing runs each command on a laptop without a staff, in
// folders that aren't there, as after a slip in the name of one.
func TestLookingAroundLeavesNothing(t *testing.T) {
	table, err := filepath.Abs(filepath.Join("testdata", "job", "class.csv"))
	must(t, err)
	t.Chdir(t.TempDir())
	makes := map[string]bool{"init": true, "join": true, "recover": true, "restore": true, "run": true, "demo": true}
	root := (&app{}).root()
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, command := range root.Commands() {
		c, ok := looking[command.Name()]
		if !ok && !makes[command.Name()] {
			t.Errorf("%s is tried by nobody", command.Name())
		}
		if !ok {
			continue
		}
		ira := newNotebook(t, "ira", "Ira Quist")
		r := ira.try(strings.Fields(strings.ReplaceAll(c.args, "TABLE", table))...)
		harmless(t, command.Name(), r)
		if done := r.code == exitDone; done != (c.says == "") || !strings.Contains(r.errs, c.says) {
			t.Errorf("%s: exit code %d: %s", c.args, r.code, r.errs)
		}
		if c.says == "no staff" && !strings.Contains(r.errs, ira.data) {
			t.Errorf("%s doesn't say where: %s", c.args, r.errs)
		}
		if _, err := os.Lstat(filepath.Dir(ira.data)); !os.IsNotExist(err) {
			t.Errorf("%s leaves something: %v", c.args, err)
		}
		if here, err := os.ReadDir("."); err != nil || len(here) > 0 {
			t.Errorf("%s leaves %v, %v", c.args, here, err)
		}
	}
	ira := newNotebook(t, "ira", "Ira Quist")
	if out := ira.do("status"); !strings.Contains(out, "no staff") || !strings.Contains(out, ira.data) {
		t.Errorf("status says %s", out)
	}
	ira.do("init", "--staff", "Low Ridge", "--person", "Ira Quist", "--root-file", "root")
	ira.do("add", "prospect", "name=Orrin Vale")
}

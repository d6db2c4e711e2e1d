package main_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path"
	"slices"
	"strings"
	"testing"
)

// Who may import whom. The shape of the project rests on a few one-way streets; each is a rule below, and a rule that is
// broken says what it protects. Change a rule only with the reason in DEVELOPERS.md.

// effectful names the packages under sync/ and node/ that do I/O. Every other one there is pure: the same arguments give
// the same answer on every laptop, which is what lets merged state be equal everywhere and lets the simulator run whole
// nodes. A new package is pure until it is named here. Packages below a named one count with it; plumbline/node itself does
// I/O too, but the packages below it are pure.
var effectful = []string{
	"plumbline/sync/mesh",
	"plumbline/node/demo",
	"plumbline/node/exporter",
	"plumbline/node/rpc",
	"plumbline/node/sim",
	"plumbline/node/web",
}

// outside lists what pure packages leave alone, standard or not: the network, the disk and processes, SQL, NATS, and the
// packages of ours that hold them. net/url and net/netip only parse.
var outside = []string{
	"database/sql", "io/ioutil", "net", "os", "syscall",
	"github.com/nats-io", "modernc.org",
	"plumbline/storage", "plumbline/sync/mesh",
}

// goPackage is what the go command reports of a package, as far as the rules look at it.
type goPackage struct {
	Dir          string
	ImportPath   string
	Name         string
	GoFiles      []string
	Imports      []string
	TestImports  []string
	XTestImports []string
}

func TestImports(t *testing.T) {
	packages := listPackages(t)
	for _, rule := range []func([]goPackage) []string{
		pureImports, foldingWithoutNode, sqlOnlyInStorage, natsOnlyInMesh, noTestsInProduct, noCodeInSync, plainNames,
	} {
		for _, breach := range rule(packages) {
			t.Error(breach)
		}
	}
}

// pureImports looks at the imports of pure packages, of packages of ours below them too: purity is only as good as what
// it stands on.
func pureImports(packages []goPackage) []string {
	byPath := map[string]goPackage{}
	for _, p := range packages {
		byPath[p.ImportPath] = p
	}
	var breaches []string
	for _, p := range packages {
		if !isPure(p.ImportPath) {
			continue
		}
		if chain := pathOutside(byPath, p.ImportPath, nil); chain != nil {
			breaches = append(breaches, fmt.Sprintf("%s must stay pure (no network, disk, SQL or NATS), so that every laptop "+
				"computes the same and the simulator can run it, but imports %s: take the data as an argument, or name the "+
				"package in effectful if input and output are its very purpose", p.ImportPath, strings.Join(chain, ", which imports ")))
		}
	}
	return breaches
}

func isPure(importPath string) bool {
	if importPath == "plumbline/node" || slices.ContainsFunc(effectful, under(importPath)) {
		return false
	}
	return strings.HasPrefix(importPath, "plumbline/sync/") || strings.HasPrefix(importPath, "plumbline/node/")
}

// pathOutside gives the chain of imports by which a package of ours reaches something outside, nil if it doesn't.
func pathOutside(byPath map[string]goPackage, importPath string, seen map[string]bool) []string {
	if seen == nil {
		seen = map[string]bool{}
	}
	seen[importPath] = true
	for _, imported := range byPath[importPath].Imports {
		if isOutside(imported) {
			return []string{imported}
		}
		if _, ours := byPath[imported]; !ours || seen[imported] {
			continue
		}
		if chain := pathOutside(byPath, imported, seen); chain != nil {
			return append([]string{imported}, chain...)
		}
	}
	return nil
}

func isOutside(importPath string) bool {
	if importPath == "net/url" || importPath == "net/netip" {
		return false
	}
	return importPath == "plumbline/node" || slices.ContainsFunc(outside, under(importPath))
}

// under tells whether importPath is a given folder or lies in it.
func under(importPath string) func(folder string) bool {
	return func(folder string) bool {
		return importPath == folder || strings.HasPrefix(importPath, folder+"/")
	}
}

// foldingWithoutNode holds for tests too: entries must fold on a node that is older than what they mean.
func foldingWithoutNode(packages []goPackage) []string {
	var breaches []string
	for _, p := range packages {
		if !under(p.ImportPath)("plumbline/sync") && !under(p.ImportPath)("plumbline/storage") {
			continue
		}
		for _, imported := range slices.Concat(p.Imports, p.TestImports, p.XTestImports) {
			if under(imported)("plumbline/node") {
				breaches = append(breaches, fmt.Sprintf("%s imports %s: entries are carried, folded and kept without knowing "+
					"the trade, so that older laptops relay what newer ones write; let the node hand down what is needed",
					p.ImportPath, imported))
			}
		}
	}
	return breaches
}

func sqlOnlyInStorage(packages []goPackage) []string {
	return onlyIn(packages, "plumbline/storage", []string{"database/sql", "modernc.org/sqlite"},
		"one package owns the database file, its transactions and its single writer; ask it for what you need in the terms of the domain")
}

func natsOnlyInMesh(packages []goPackage) []string {
	return onlyIn(packages, "plumbline/sync/mesh", []string{"github.com/nats-io"},
		"NATS only carries, and only behind the front that proves who is calling; everything else talks over an abstract link")
}

func onlyIn(packages []goPackage, home string, guarded []string, reason string) []string {
	var breaches []string
	for _, p := range packages {
		if under(p.ImportPath)(home) {
			continue
		}
		for _, imported := range p.Imports {
			if slices.ContainsFunc(guarded, under(imported)) {
				breaches = append(breaches, fmt.Sprintf("%s imports %s, which only %s may: %s", p.ImportPath, imported, home, reason))
			}
		}
	}
	return breaches
}

// forTests names the packages that only tests, and each other, may import.
var forTests = []string{"plumbline/node/sim", "plumbline/sync/merge/mergetest", "plumbline/sync/exchange/exchangetest"}

func noTestsInProduct(packages []goPackage) []string {
	var breaches []string
	for _, p := range packages {
		if slices.Contains(forTests, p.ImportPath) {
			continue
		}
		for _, imported := range p.Imports {
			if slices.Contains(forTests, imported) {
				breaches = append(breaches, fmt.Sprintf("%s imports %s outside its tests: what breaks disks and invents people "+
					"stays out of the program", p.ImportPath, imported))
			}
		}
	}
	return breaches
}

func noCodeInSync(packages []goPackage) []string {
	for _, p := range packages {
		if p.ImportPath == "plumbline/sync" {
			return []string{"sync/ holds folders only: a package of that name would shadow the standard one in every file that imports it"}
		}
	}
	return nil
}

// plainNames looks at the name of a package and at its folder: a name that fits anything collects everything.
func plainNames(packages []goPackage) []string {
	vague := []string{"util", "utils", "common", "helper", "helpers", "model", "models", "type", "types", "misc", "shared", "base"}
	var breaches []string
	for _, p := range packages {
		if slices.Contains(vague, p.Name) || slices.Contains(vague, path.Base(p.ImportPath)) {
			breaches = append(breaches, fmt.Sprintf("%s (package %s) has a name that fits anything, so anything will end up in it: "+
				"name it for the one thing inside", p.ImportPath, p.Name))
		}
	}
	return breaches
}

func listPackages(t *testing.T) []goPackage {
	t.Helper()
	// -e: a package that doesn't compile is a failure of its own tests, not of this one.
	list := exec.Command("go", "list", "-e", "-json=Dir,ImportPath,Name,GoFiles,Imports,TestImports,XTestImports", "./...")
	list.Dir = "../.."
	out, err := list.Output()
	if err != nil {
		t.Fatalf("listing the packages of the module: %v", err)
	}
	var packages []goPackage
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var p goPackage
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("reading what the go command lists: %v", err)
		}
		packages = append(packages, p)
	}
	if len(packages) == 0 {
		t.Fatal("the go command lists no package")
	}
	return packages
}

// A rule that never fires protects nothing: each is shown an invented module that breaks it, and one close by that doesn't.
func TestImportRulesFire(t *testing.T) {
	importing := func(importPath string, imports ...string) goPackage {
		return goPackage{ImportPath: importPath, Name: path.Base(importPath), Imports: imports}
	}
	for name, c := range map[string]struct {
		rule          func([]goPackage) []string
		broken, holds []goPackage
	}{
		"pure, directly": {pureImports,
			[]goPackage{importing("plumbline/sync/entry", "net/http")},
			[]goPackage{importing("plumbline/sync/entry", "net/netip"), importing("plumbline/node/rpc", "net/http")}},
		"pure, through another": {pureImports,
			[]goPackage{importing("plumbline/node/measure", "plumbline/proto/x"), importing("plumbline/proto/x", "os")},
			[]goPackage{importing("plumbline/node/measure", "plumbline/proto/x"), importing("plumbline/proto/x", "example.org/os")}},
		"pure, from the node": {pureImports,
			[]goPackage{importing("plumbline/node/query", "plumbline/node")},
			[]goPackage{importing("plumbline/node/query", "plumbline/node/record")}},
		"folding without the node": {foldingWithoutNode,
			[]goPackage{{ImportPath: "plumbline/storage", XTestImports: []string{"plumbline/node/record"}}},
			[]goPackage{importing("plumbline/node/rpc", "plumbline/node")}},
		"SQL": {sqlOnlyInStorage,
			[]goPackage{importing("plumbline/node", "database/sql")},
			[]goPackage{importing("plumbline/storage", "database/sql", "modernc.org/sqlite")}},
		"NATS": {natsOnlyInMesh,
			[]goPackage{importing("plumbline/node", "github.com/nats-io/nats.go")},
			[]goPackage{importing("plumbline/sync/mesh", "github.com/nats-io/nats-server/v2/server")}},
		"tests in the product": {noTestsInProduct,
			[]goPackage{importing("plumbline/node", "plumbline/node/sim")},
			[]goPackage{importing("plumbline/node/sim", "plumbline/sync/merge/mergetest")}},
		"code in sync": {noCodeInSync,
			[]goPackage{importing("plumbline/sync")},
			[]goPackage{importing("plumbline/sync/entry")}},
		"vague name": {plainNames,
			[]goPackage{{ImportPath: "plumbline/node/odds", Name: "helpers"}},
			[]goPackage{importing("plumbline/node/measure")}},
	} {
		if breaches := c.rule(c.broken); len(breaches) != 1 {
			t.Errorf("%s: a broken rule gave %q, want one sentence", name, breaches)
		}
		if breaches := c.rule(c.holds); len(breaches) != 0 {
			t.Errorf("%s: a kept rule gave %q", name, breaches)
		}
	}
}

package main_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// The clock can't be ruled out by imports, since package time also holds durations and dates: this looks for its uses.

func TestPurePackagesReadNoClock(t *testing.T) {
	for _, p := range listPackages(t) {
		if !isPure(p.ImportPath) {
			continue
		}
		for _, file := range p.GoFiles {
			uses, err := clockUses(filepath.Join(p.Dir, file), nil)
			if err != nil {
				t.Error(err)
			}
			for _, use := range uses {
				t.Errorf("%s: no clock decides anything, laptops' clocks disagree and the simulator has its own: take the time as an argument", use)
			}
		}
	}
}

func TestClockUsesAreFound(t *testing.T) {
	source := "package p\nimport clock \"time\"\nvar a = clock.Now()\nvar b = clock.Second\nvar c = clock.AfterFunc\n"
	uses, err := clockUses("p.go", source)
	if want := []string{"p.go:3:9: time.Now", "p.go:5:9: time.AfterFunc"}; err != nil || !slices.Equal(uses, want) {
		t.Errorf("found %q, %v, want %q", uses, err, want)
	}
	if uses, err := clockUses("p.go", "package p\nvar time struct{ Now int }\nvar a = time.Now\n"); err != nil || len(uses) != 0 {
		t.Errorf("a variable named time: found %q, %v, want nothing", uses, err)
	}
}

// clockUses gives the places where a file reads the clock or waits for it. source may be nil: then the file is read.
func clockUses(name string, source any) ([]string, error) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, name, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	local := importedAs(file, "time")
	var uses []string
	ast.Inspect(file, func(n ast.Node) bool {
		selector, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if of, ok := selector.X.(*ast.Ident); ok && local != "" && of.Name == local && readsClock(selector.Sel.Name) {
			uses = append(uses, fmt.Sprintf("%s: time.%s", files.Position(selector.Pos()), selector.Sel.Name))
		}
		return true
	})
	return uses, nil
}

func readsClock(function string) bool {
	return slices.Contains([]string{
		"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer",
	}, function)
}

// importedAs gives the name under which a file knows a package whose last path element is its name, "" if it doesn't.
func importedAs(file *ast.File, importPath string) string {
	for _, spec := range file.Imports {
		if imported, err := strconv.Unquote(spec.Path.Value); err != nil || imported != importPath {
			continue
		}
		if spec.Name != nil {
			return spec.Name.Name
		}
		return importPath
	}
	return ""
}

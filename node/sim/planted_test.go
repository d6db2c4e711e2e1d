package sim

import (
	"encoding/json"
	"fmt"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A simulator that finds nothing proves nothing until it has found something. Each
// file in testdata/planted describes a fault as edits of today's sources. One
// program is built with all of them, each asleep until the environment names it;
// the sources stay as they are, and know no switch.

const plantedIn = "PLUMBLINE_PLANTED"

// withinSeeds is how many seeds it may take to find a fault.
const withinSeeds = 200

func TestPlantedFaultsAreFound(t *testing.T) {
	names, program := plant(t)
	require.GreaterOrEqual(t, len(names), 12)
	run := func(name string, seeds int) (string, error) {
		command := exec.Command(program, "-test.run=^TestSeeds$", "-sim.shrink=false", fmt.Sprint("-sim.seeds=", seeds))
		command.Env = append(os.Environ(), plantedIn+"="+name)
		out, err := command.CombinedOutput()
		return string(out), err
	}
	out, err := run("", 30)
	require.NoErrorf(t, err, "with all of them asleep:\n%s", out)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			out, err := run(name, withinSeeds)
			require.Errorf(t, err, "not found within %d seeds", withinSeeds)
			found := regexp.MustCompile(`seed \d+: .*`).FindString(out)
			require.NotEmptyf(t, found, "something else failed:\n%s", out)
			t.Logf("%.300s", found)
		})
	}
}

// plant builds this package's tests with all faults in it.
func plant(t *testing.T) (names []string, program string) {
	t.Helper()
	files, err := filepath.Glob("testdata/planted/*.txt")
	require.NoError(t, err)
	sources := map[string]string{}
	for _, file := range files {
		description, err := os.ReadFile(file)
		require.NoError(t, err)
		name := strings.TrimSuffix(filepath.Base(file), ".txt")
		require.Containsf(t, string(description), fmt.Sprintf("planted(%q)", name), "%s wakes by its own name", file)
		require.NoErrorf(t, edit(sources, string(description)), "%s: mend the description, since the source has moved on", file)
		names = append(names, name)
	}
	return names, build(t, sources)
}

// edit applies a description to sources, by their path from the module's root.
func edit(sources map[string]string, description string) error {
	var path string
	var edits int
	for rest := description; rest != ""; {
		line, after, _ := strings.Cut(rest, "\n")
		rest = after
		if named, ok := strings.CutPrefix(line, "-- "); ok {
			path = strings.TrimSuffix(named, " --")
			continue
		}
		if line != "<<<<" {
			continue
		}
		old, after, ok := strings.Cut(rest, "====\n")
		fresh, after, closed := strings.Cut(after, ">>>>\n")
		if !ok || !closed {
			return fmt.Errorf("an edit of %s isn't closed", path)
		}
		if sources[path] == "" {
			data, err := os.ReadFile(filepath.Join("..", "..", path))
			if err != nil {
				return err
			}
			sources[path] = string(data)
		}
		if n := strings.Count(sources[path], old); n != 1 {
			return fmt.Errorf("%s holds %d times, not once:\n%s", path, n, old)
		}
		sources[path] = strings.Replace(sources[path], old, fresh, 1)
		rest, edits = after, edits+1
	}
	if edits == 0 {
		return fmt.Errorf("it edits nothing")
	}
	return nil
}

// build writes the overlay and builds with it.
func build(t *testing.T, sources map[string]string) string {
	t.Helper()
	folder := t.TempDir()
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	replace := map[string]string{}
	add := func(path, text string) {
		file := filepath.Join(folder, fmt.Sprint(len(replace), ".go"))
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		replace[filepath.Join(root, path)] = file
	}
	var packages []string
	for path, text := range sources {
		add(path, text)
		parsed, err := parser.ParseFile(token.NewFileSet(), path, text, parser.PackageClauseOnly)
		require.NoError(t, err)
		if dir := filepath.Dir(path); !slices.Contains(packages, dir) {
			packages = append(packages, dir)
			add(filepath.Join(dir, "planted.go"), fmt.Sprintf("package %s\n\nimport \"os\"\n\nvar awake = os.Getenv(%q)\n\n"+
				"func planted(name string) bool { return name == awake }\n", parsed.Name, plantedIn))
		}
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	require.NoError(t, err)
	file, program := filepath.Join(folder, "overlay.json"), filepath.Join(folder, "planted.test")
	require.NoError(t, os.WriteFile(file, overlay, 0o600))
	out, err := exec.Command("go", "test", "-c", "-vet=off", "-overlay", file, "-o", program, ".").CombinedOutput()
	require.NoErrorf(t, err, "%s", out)
	return program
}

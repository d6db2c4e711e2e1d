package main

import (
	"bytes"
	"strings"
	"testing"
)

func TestAWrongCommandLineSaysWhatIsMissing(t *testing.T) {
	for line, says := range map[string]string{
		"settle":                         "RECORD and FIELD are missing; usage: plumbline settle RECORD FIELD",
		"settle x":                       "FIELD is missing",
		"settle x note":                  "--choose, --value, --merge or --clear is missing; usage: plumbline settle RECORD FIELD",
		"settle x note --merge --clear":  "--clear and --merge can't go together",
		"settle x note --merge --seen a": "--merge and --seen can't go together",
		"add prospect":                   "field=value… is missing",
		"show a b":                       `"b" is one word too many; usage: plumbline show RECORD`,
		"list -n -3":                     "--limit -3: it takes a whole number from 0 on; see plumbline list --help",
		"list --limit=99999999999":       "--limit 99999999999: it takes a whole number from 0 on",
		"run --port film":                "--port film: it takes a whole number",
		"run --listen 300.1.1.1:5":       `--listen 300.1.1.1:5: "300.1.1.1" is no address`,
		"run --listen 300.1.1.1":         `"300.1.1.1" is no address`,
		"run --listen 10.0.0:47123":      `"10.0.0" is no address`,
		"run --listen fe80::g":           `"fe80::g" is no address`,
		"run --listen under_the_stand/":  `"under_the_stand/" is no address`,
		"roster now":                     `"now" is one word too many`,
		"import class.csv":               "FILE is missing; usage: plumbline import KIND FILE",
	} {
		var out, errs bytes.Buffer
		err := Run(t.Context(), append(strings.Fields(line), "--data", t.TempDir(), "--state", t.TempDir()), strings.NewReader(""), &out, &errs)
		if exitCode(err) != exitUsage || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v; want %q", line, err, says)
		}
	}
}

package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	v1 "plumbline/proto/plumbline/v1"
)

// maxText is what a text read from a file may hold: more fits no entry.
const maxText = 64 << 10

// readSets reads field=value arguments.
func (a *app) readSets(args []string) ([]*v1.Set, error) {
	var sets []*v1.Set
	for _, arg := range args {
		field, value, ok := strings.Cut(arg, "=")
		if !ok || field == "" {
			return nil, usagef("%q isn't field=value", arg)
		}
		text, err := a.readValue(value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", field, err)
		}
		sets = append(sets, &v1.Set{Field: strings.TrimSpace(field), Text: text})
	}
	return sets, nil
}

// readValue gives the value itself, or the text that it names with @.
func (a *app) readValue(value string) (string, error) {
	name, named := strings.CutPrefix(value, "@")
	switch {
	case !named:
		return value, nil
	case strings.HasPrefix(name, "@"):
		return name, nil
	case name == "-":
		return readText("standard input", a.in)
	}
	file, err := os.Open(name)
	if err != nil {
		return "", fmt.Errorf("reading the text: %w; write @@ for a value that begins with @", err)
	}
	text, err := readText(name, file)
	if err := file.Close(); err != nil {
		return "", err
	}
	return text, err
}

// readText leaves out the last line's end, which editors add.
func readText(name string, from io.Reader) (string, error) {
	data, err := io.ReadAll(io.LimitReader(from, maxText+1))
	if err != nil {
		return "", fmt.Errorf("reading %s: %w", name, err)
	}
	if len(data) > maxText {
		return "", fmt.Errorf("%s holds more than %d kB, more than a field takes: shorten it", name, maxText>>10)
	}
	return strings.TrimSuffix(strings.TrimSuffix(string(data), "\n"), "\r"), nil
}

package rpc

import (
	"bytes"
	"fmt"
	"html/template"
	"path/filepath"

	"plumbline/node"
)

const (
	handOverFile = "open.html"
	// arrivalPath is where a browser comes in that was sent here by that file, or
	// by a link. It shows the page, which goes on to its first screen.
	arrivalPath = "/open"
)

var handOver = template.Must(template.New(handOverFile).Parse(`<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="color-scheme" content="light dark">
<meta http-equiv="refresh" content="0; url={{.}}">
<title>Plumbline</title>
<p><a href="{{.}}">Open Plumbline</a>. This works once; then <code>plumbline open</code> makes a new one.</p>
`))

// HandOver writes a file that sends a browser on to an address that opens the
// page, and returns its path. A browser is given this file instead of the
// address: every user of the machine can read the command line of a program, but
// only the owner this file. It stays until the next one; its address works once.
func HandOver(state, address string) (string, error) {
	var page bytes.Buffer
	if err := handOver.Execute(&page, address); err != nil {
		return "", fmt.Errorf("making the file that opens the page: %w", err)
	}
	if err := node.WriteSecret(filepath.Join(state, handOverFile), page.Bytes()); err != nil {
		return "", fmt.Errorf("saving the file that opens the page: %w", err)
	}
	return filepath.Join(state, handOverFile), nil
}

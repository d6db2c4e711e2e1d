package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
)

// ask reads one line that a person types, or the next line of what a script
// gives on standard input.
func (a *app) ask(ctx context.Context, question string) (string, error) {
	a.prompt(question)
	select {
	case line, ok := <-a.lines():
		if !ok {
			return "", fmt.Errorf("standard input ended where it should give this: %s", strings.ToLower(question[:1])+question[1:])
		}
		return strings.TrimSpace(line), nil
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// prompt puts a question to a person; a script knows what it is asked.
func (a *app) prompt(question string) {
	if isTerminal(a.in) {
		fmt.Fprintf(a.err, "%s: ", question)
	}
}

// lines gives what is typed, line by line.
func (a *app) lines() <-chan string {
	if a.typed == nil {
		a.typed = make(chan string)
		go readLines(a.in, a.typed)
	}
	return a.typed
}

// readLines ends with its input. A read from a terminal can't be broken off: it
// ends with the process.
func readLines(in io.Reader, lines chan<- string) {
	defer close(lines)
	scanner := bufio.NewScanner(in)
	for scanner.Scan() {
		lines <- scanner.Text()
	}
}

// need returns a flag's value, or asks for it at a terminal.
func (a *app) need(ctx context.Context, given, flag, question string) (string, error) {
	if given != "" {
		return given, nil
	}
	if !isTerminal(a.in) {
		return "", usagef("%s is missing: give it with --%s", strings.ToLower(question[:1])+question[1:], flag)
	}
	for {
		typed, err := a.ask(ctx, question)
		if typed != "" || err != nil {
			return typed, err
		}
		fmt.Fprintln(a.err, "Nothing was typed.")
	}
}

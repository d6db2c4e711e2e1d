package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// print gives an answer: in JSON if that was asked for, else in words.
func (a *app) print(answer proto.Message, words func(io.Writer)) error {
	if a.json {
		return a.printJSON(answer, "  ")
	}
	var b bytes.Buffer
	words(&b)
	_, err := a.out.Write(b.Bytes())
	return err
}

// printJSON writes a message with the schema's own names and with its zero
// values, so that a script finds each field. The library varies its spacing
// from build to build on purpose; it is laid out anew. An empty indent gives one
// line, for streams.
func (a *app) printJSON(message proto.Message, indent string) error {
	data, err := protojson.MarshalOptions{UseProtoNames: true, EmitDefaultValues: true}.Marshal(message)
	if err != nil {
		return fmt.Errorf("writing the answer as JSON: %w", err)
	}
	return a.layOut(data, indent)
}

// printPlain is printJSON for what is no message of the API.
func (a *app) printPlain(answer any) error {
	data, err := json.Marshal(answer)
	if err != nil {
		return fmt.Errorf("writing the answer as JSON: %w", err)
	}
	return a.layOut(data, "")
}

func (a *app) layOut(data []byte, indent string) error {
	var b bytes.Buffer
	var err error
	if indent == "" {
		err = json.Compact(&b, data)
	} else {
		err = json.Indent(&b, data, "", indent)
	}
	if err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err = a.out.Write(b.Bytes())
	return err
}

// table aligns rows in columns, two spaces apart and indented.
func table(w io.Writer, indent string, rows [][]string) {
	var b bytes.Buffer
	aligned := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, row := range rows {
		fmt.Fprintln(aligned, strings.Join(row, "\t"))
	}
	// Into a buffer, which takes everything.
	_ = aligned.Flush()
	for line := range strings.Lines(b.String()) {
		if line = strings.TrimRight(line, " \n"); line != "" {
			line = indent + line
		}
		fmt.Fprintln(w, line)
	}
}

// cell fits a text into one cell of a table.
func cell(text string) string {
	const most = 60
	text = strings.Join(strings.Fields(text), " ")
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most-1]) + "…"
	}
	return text
}

// when shows an author's clock in the reader's time zone.
func when(t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return t.AsTime().In(time.Local).Format("2006-01-02 15:04")
}

// counted words a number of things: "1 record", "3 records".
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

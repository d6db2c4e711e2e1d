package node

import (
	"encoding/base32"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

func (w *writer) newID(k *record.Kind, given string) (entry.RecordID, error) {
	var unique [16]byte
	if given == "" {
		if _, err := io.ReadFull(w.n.cfg.Random, unique[:]); err != nil {
			return "", fmt.Errorf("read randomness: %w", err)
		}
		return entry.NewRecordID(k.Class, k.Number, w.cert.Person, unique), nil
	}
	data, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(strings.ToUpper(given))
	if err != nil || len(data) != len(unique) {
		return "", refuse(ErrInvalid, "new_id: %q isn't 16 bytes in base32", given)
	}
	copy(unique[:], data)
	return entry.NewRecordID(k.Class, k.Number, w.cert.Person, unique), nil
}

// required names what a record of a kind must have to mean anything.
var required = map[entry.Kind][]string{
	record.Prospect: {"name"}, record.Measurement: {"prospect", "what", "reading"}, record.Game: {"date", "home", "away"},
	record.Look: {"prospect"}, record.Rep: {"look"}, record.Evaluation: {"prospect"}, record.Claim: {"evaluation"},
	record.Flag: {"prospect", "about"}, record.Person: {"name"}, record.Factor: {"name"}, record.Assignment: {"person", "prospect"},
}

// first reads the fields of a new record. What is wrong with them is told all at
// once, a line each.
func (w *writer) first(id entry.RecordID, k *record.Kind, sets []Set) ([]entry.Change, error) {
	sets = measured(k, sets)
	var changes []entry.Change
	var wrong []error
	named := map[entry.Register]bool{}
	for _, set := range sets {
		if set.Clear {
			continue
		}
		reg, v, err := w.read(k, set)
		if reg.Field != nil {
			named[reg.Address()] = true // it may be wrong, and isn't missing
		}
		if err == nil {
			err = errors.Join(w.once(id, reg), w.factor(reg, v.Op))
		}
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		changes = append(changes, entry.Change{Register: reg.Address(), Op: v.Op, Value: v.Bytes})
	}
	for _, name := range required[k.Number] {
		if !named[record.Must(k.Number, name).Address()] {
			wrong = append(wrong, refuse(ErrInvalid, "a new %s needs %s: add %s=…", k.Name, strings.Join(required[k.Number], ", "), name))
			break
		}
	}
	return changes, errors.Join(wrong...)
}

// measured lets a measurement be typed as one line, or with what apart from
// the reading: what=arm reading="334 verified".
func measured(k *record.Kind, sets []Set) []Set {
	if k.Number != record.Measurement {
		return sets
	}
	at := func(name string) int {
		return slices.IndexFunc(sets, func(s Set) bool {
			f, err := k.FieldByName(s.Field)
			return err == nil && f.Name == name && s.JSON == nil
		})
	}
	reading, what := at("reading"), at("what")
	if reading < 0 {
		return sets
	}
	sets = slices.Clone(sets)
	first, _, _ := strings.Cut(strings.TrimSpace(sets[reading].Text), " ")
	_, err := record.Must(record.Measurement, "what").Parse(first)
	switch {
	case err == nil && what < 0:
		sets = append(sets, Set{Field: "what", Text: first})
	case err != nil && what >= 0:
		sets[reading].Text = sets[what].Text + " " + sets[reading].Text
	}
	return sets
}

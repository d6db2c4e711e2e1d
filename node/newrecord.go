package node

import (
	"encoding/base32"
	"errors"
	"fmt"
	"io"
	"strings"

	"plumbline/node/record"
	"plumbline/sync/entry"
)

func (w *writer) newID(k *record.Kind, given string) (entry.RecordID, error) {
	if k.Number == record.Device {
		return "", refuse(ErrInvalid, "a laptop isn't written down: it comes by invitation, with plumbline invite here and plumbline join there")
	}
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
	sets = measured(k, sets, nil)
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
			err = errors.Join(w.once(id, reg), w.allowed(reg, v))
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
	wrong = append(wrong, w.misread(k, sets, nil), w.unfiled(k, sets, nil))
	return changes, errors.Join(wrong...)
}

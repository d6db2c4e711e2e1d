package record

import (
	"bytes"
	"testing"

	"plumbline/sync/entry"
)

// FuzzValue shows a value of any bytes, as one comes from other laptops: it has a
// text or can't be read, and its JSON reads as the same bytes.
func FuzzValue(f *testing.F) {
	all := registers()
	f.Add(uint16(0), []byte("Abel Quill"))
	f.Add(uint16(9), []byte{8, 150, 1, 18, 3, 'i', 'n', 'c'})
	f.Fuzz(func(t *testing.T, of uint16, data []byte) {
		r := all[int(of)%len(all)]
		v := Value{Op: entry.OpValue, Bytes: data}
		if _, err := r.Text(v); err != nil {
			return
		}
		if _, err := r.Native(v); err != nil {
			t.Errorf("%s has a text but no native form: %v", r.Path(), err)
		}
		if _, err := r.Short(v); err != nil {
			t.Errorf("%s has a text but no short one: %v", r.Path(), err)
		}
	})
}

// FuzzTyped reads what is typed or sent as JSON into any field: it is refused, or
// has a text.
func FuzzTyped(f *testing.F) {
	all := registers()
	for _, text := range []string{"Abel Quill", "2027", "yes", "7:12", "own 35", "3 of 4", "A 1:01.5-2:00", `{"count":3,"of":4}`, "arm 33 1/4 verified"} {
		f.Add(uint16(1), text)
		f.Add(uint16(20), text)
	}
	f.Fuzz(func(t *testing.T, of uint16, typed string) {
		r := all[int(of)%len(all)]
		if v, err := r.Parse(typed); err == nil {
			text, err := r.Text(v)
			if err != nil {
				t.Fatalf("%s: %q is kept, and can't be shown: %v", r.Path(), typed, err)
			}
			if again, err := r.Parse(text); err == nil && !bytes.Equal(again.Bytes, v.Bytes) {
				t.Errorf("%s: %q is shown as %q, which reads as another value", r.Path(), typed, text)
			}
		}
		if v, err := r.FromJSON([]byte(typed)); err == nil {
			if _, err := r.Text(v); err != nil {
				t.Errorf("%s: %s is kept, and can't be shown: %v", r.Path(), typed, err)
			}
		}
	})
}

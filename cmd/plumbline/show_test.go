package main

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	v1 "plumbline/proto/plumbline/v1"
)

// Who wrote the same at the same time and from the same list stands there together.
func TestOriginsOfOneValue(t *testing.T) {
	at := func(name string, minute int, source string) *v1.Value {
		return &v1.Value{PersonName: name, Source: source, Written: timestamppb.New(time.Date(2031, 10, 3, 9, minute, 0, 0, time.Local))}
	}
	for want, values := range map[string][]*v1.Value{
		"Mara Quill, 2031-10-03 09:01":                                                          {at("Mara Quill", 1, "")},
		"Mara Quill, Tobin Ash, 2031-10-03 09:01, from North list":                              {at("Mara Quill", 1, "North list"), at("Tobin Ash", 1, "North list"), at("Tobin Ash", 2, "")},
		"Mara Quill, Ira Quist, 2031-10-03 09:01; Tobin Ash, 2031-10-03 09:02, from North list": {at("Mara Quill", 1, ""), at("Tobin Ash", 2, "North list"), at("Ira Quist", 1, "")},
	} {
		if got := origins(values); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

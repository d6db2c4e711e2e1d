package rpc

import (
	"encoding/json"
	"fmt"
	"math"

	"google.golang.org/protobuf/types/known/structpb"
)

// each translates a list. It gives an empty list for none, never nil, as the
// messages show both alike.
func each[From, To any](list []From, translate func(From) To) []To {
	made := make([]To, 0, len(list))
	for _, item := range list {
		made = append(made, translate(item))
	}
	return made
}

// eachOr is each for translations that can fail.
func eachOr[From, To any](list []From, translate func(From) (To, error)) ([]To, error) {
	made := make([]To, 0, len(list))
	for _, item := range list {
		one, err := translate(item)
		if err != nil {
			return nil, err
		}
		made = append(made, one)
	}
	return made, nil
}

type identifier interface {
	comparable
	fmt.Stringer
}

// text gives an identifier's text form, and nothing for one that isn't set.
func text[ID identifier](id ID) string {
	var none ID
	if id == none {
		return ""
	}
	return id.String()
}

func texts[ID identifier](ids []ID) []string { return each(ids, text[ID]) }

// count fits a count into the 32 bits that it has on the wire.
func count[N int | uint64](n N) uint32 {
	if n < 0 {
		return 0
	}
	return uint32(min(uint64(n), math.MaxUint32))
}

// jsonTo translates a value of JSON. Lists and numbers of any Go type may occur
// in it.
func jsonTo(value any) (*structpb.Value, error) {
	if made, err := structpb.NewValue(value); err == nil {
		return made, nil
	}
	data, err := json.Marshal(value)
	if err != nil {
		return nil, fmt.Errorf("a value of type %T has no JSON: %w", value, err)
	}
	made := &structpb.Value{}
	if err := made.UnmarshalJSON(data); err != nil {
		return nil, fmt.Errorf("a value of type %T has no JSON: %w", value, err)
	}
	return made, nil
}

// jsonFrom keeps apart a value that isn't there and one that is null.
func jsonFrom(value *structpb.Value) any {
	if value == nil {
		return nil
	}
	return value.AsInterface()
}

func structTo(values map[string]any) (*structpb.Struct, error) {
	if values == nil {
		return nil, nil
	}
	made := &structpb.Struct{Fields: make(map[string]*structpb.Value, len(values))}
	for name, value := range values {
		var err error
		if made.Fields[name], err = jsonTo(value); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return made, nil
}

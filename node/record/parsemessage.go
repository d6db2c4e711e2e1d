package record

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	recordv1 "plumbline/proto/plumbline/record/v1"
)

// written is how the messages among the values are typed and shown.
type written struct {
	parse func(typed string) (proto.Message, error)
	text  func(m protoreflect.Message) string
}

var messages = map[protoreflect.FullName]written{
	(*recordv1.Reading)(nil).ProtoReflect().Descriptor().FullName(): {parseReading, textOf(readingText)},
	(*recordv1.Clip)(nil).ProtoReflect().Descriptor().FullName():    {parseClip, textOf(clipText)},
	(*recordv1.Tally)(nil).ProtoReflect().Descriptor().FullName():   {parseTally, textOf(tallyText)},
	(*recordv1.Filed)(nil).ProtoReflect().Descriptor().FullName():   {parseFiled, textOf(filedText)},
}

func textOf[M proto.Message](text func(M) string) func(protoreflect.Message) string {
	return func(m protoreflect.Message) string { return text(m.Interface().(M)) }
}

func parseMessage(desc protoreflect.FieldDescriptor, typed string) (protoreflect.Value, error) {
	how, ok := messages[desc.Message().FullName()]
	if !ok {
		return protoreflect.Value{}, because("a %s can't be typed", desc.Message().Name())
	}
	m, err := how.parse(strings.TrimSpace(typed))
	if err != nil {
		return protoreflect.Value{}, err
	}
	return protoreflect.ValueOfMessage(m.ProtoReflect()), nil
}

func parseFiled(typed string) (proto.Message, error) {
	return &recordv1.Filed{Date: proto.String(typed)}, nil
}

func filedText(f *recordv1.Filed) string { return f.GetDate() }

var tallyShape = regexp.MustCompile(`^(\d{1,6}) ?(?:of|/) ?(\d{1,6})$`)

func parseTally(typed string) (proto.Message, error) {
	m := tallyShape.FindStringSubmatch(strings.ToLower(typed))
	if m == nil {
		return nil, because("say how many of how many: 7 of 12")
	}
	count, _ := strconv.Atoi(m[1]) // six digits at most
	of, _ := strconv.Atoi(m[2])
	return &recordv1.Tally{Count: proto.Int32(int32(count)), Of: proto.Int32(int32(of))}, nil
}

func tallyText(t *recordv1.Tally) string { return fmt.Sprintf("%d of %d", t.GetCount(), t.GetOf()) }

var (
	clipShape = regexp.MustCompile(`^(.+?)\s+([\d:.]+)\s?-\s?([\d:.]+)$`)
	spotShape = regexp.MustCompile(`^(?:(\d{1,2}):)?(\d{1,3}):(\d{2})(?:\.(\d{1,3}))?$`)
)

func parseClip(typed string) (proto.Message, error) {
	m := clipShape.FindStringSubmatch(typed)
	if m == nil {
		return nil, because("name the film, then from and to: FILM 12:31.5-12:38")
	}
	film, err := cleanLine(m[1])
	if err != nil {
		return nil, err
	}
	start, err := parseSpot(m[2])
	if err != nil {
		return nil, err
	}
	end, err := parseSpot(m[3])
	if err != nil {
		return nil, err
	}
	return &recordv1.Clip{Film: proto.String(film), StartMs: proto.Int64(start), EndMs: proto.Int64(end)}, nil
}

// parseSpot reads a time in a film: 12:31, 12:31.5 or 1:12:31.
func parseSpot(typed string) (int64, error) {
	m := spotShape.FindStringSubmatch(typed)
	if m == nil || m[3] > "59" || (m[1] != "" && (len(m[2]) > 2 || m[2] > "59")) {
		return 0, because("%s is no time in a film; type minutes and seconds: 12:31.5", typed)
	}
	part := func(digits string) time.Duration {
		n, _ := strconv.Atoi(digits) // three digits at most; empty is none
		return time.Duration(n)
	}
	spot := part(m[1])*time.Hour + part(m[2])*time.Minute + part(m[3])*time.Second
	return (spot + part((m[4] + "000")[:3])*time.Millisecond).Milliseconds(), nil
}

func clipText(c *recordv1.Clip) string {
	return c.GetFilm() + " " + formatSpot(c.GetStartMs()) + "-" + formatSpot(c.GetEndMs())
}

func formatSpot(ms int64) string {
	text := fmt.Sprintf("%d:%02d.%03d", ms/60000, ms/1000%60, ms%1000)
	if ms >= 3600_000 {
		text = fmt.Sprintf("%d:%02d:%02d.%03d", ms/3600_000, ms/60000%60, ms/1000%60, ms%1000)
	}
	whole, part, _ := strings.Cut(text, ".")
	return strings.TrimSuffix(whole+"."+strings.TrimRight(part, "0"), ".")
}

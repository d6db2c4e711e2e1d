package record

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

var (
	clockShape    = regexp.MustCompile(`^(\d{0,2}):(\d{2})$`)
	yardLineShape = regexp.MustCompile(`^(own|opp|opponent|opponents|-|\+)? ?(\d{1,2})$`)
)

// parseClock reads the time left in a quarter.
func parseClock(typed string) (protoreflect.Value, error) {
	m := clockShape.FindStringSubmatch(strings.TrimSpace(typed))
	if m == nil {
		return protoreflect.Value{}, because("not a clock; type minutes and seconds: 12:31")
	}
	minutes, _ := strconv.Atoi(m[1]) // empty is none
	seconds, _ := strconv.Atoi(m[2])
	if seconds > 59 || minutes*60+seconds > 900 {
		return protoreflect.Value{}, because("a quarter's clock goes from 15:00 to 0:00")
	}
	return protoreflect.ValueOfInt32(int32(minutes*60 + seconds)), nil
}

func formatClock(seconds int64) string { return fmt.Sprintf("%d:%02d", seconds/60, seconds%60) }

// parseYardLine reads a spot on the field as yards to the goal line ahead. Minus
// for the own half and plus for the opponent's are common practice, no source.
func parseYardLine(typed string) (protoreflect.Value, error) {
	m := yardLineShape.FindStringSubmatch(strings.Join(strings.Fields(strings.ToLower(typed)), " "))
	if m == nil {
		return protoreflect.Value{}, because("not a yard line; type own 25 or opp 30, or -25 or +30")
	}
	yards, _ := strconv.Atoi(m[2]) // two digits at most
	switch {
	case yards < 1 || yards > 50:
		return protoreflect.Value{}, because("yard lines go from 1 to 50 on either side")
	case m[1] == "" && yards != 50:
		return protoreflect.Value{}, because("on which side? Type own %d or opp %d", yards, yards)
	case m[1] == "own" || m[1] == "-":
		yards = 100 - yards
	}
	return protoreflect.ValueOfInt32(int32(yards)), nil
}

func formatYardLine(toGoal int64) string {
	switch {
	case toGoal == 50:
		return "50"
	case toGoal > 50:
		return fmt.Sprintf("own %d", 100-toGoal)
	}
	return fmt.Sprintf("opp %d", toGoal)
}

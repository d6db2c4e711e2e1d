package demo

// signs are what goes with a result, "" for nothing worth a word.
var signs = map[string][]string{
	"pass won":  {"", "inside_hands", "re_anchor", "mirror", "active_feet", "passes_off", "independent_hands", "square"},
	"pass even": {"", "", "wide_hands", "re_anchor", "resets_hands", "high_pads"},
	"pass lost": {"", "lunging", "crossed_feet", "stopped_feet", "wide_hands", "high_pads", "oversets", "late_eyes"},
	"run won":   {"", "low_pads", "strain", "finish", "quick_get_off", "good_angle", "latch"},
	"run even":  {"", "", "strain", "high_pads", "narrow_base"},
	"run lost":  {"", "lunging", "bad_angle", "narrow_base", "high_pads", "falls_off"},
}

// phrases are how scouts say them.
var phrases = map[string][]string{
	"late_hands":        {"punch late", "hands late to the edge", "waits on the punch"},
	"waist_bend":        {"bends at the waist", "tired, folds at the waist"},
	"inside_hands":      {"hands inside first", "good fit inside"},
	"re_anchor":         {"gives a step, re-anchors", "sinks and stops it"},
	"mirror":            {"mirrors well", "stays in front"},
	"active_feet":       {"feet alive", "feet keep going"},
	"passes_off":        {"passes it off clean", "sees the twist early"},
	"independent_hands": {"one hand, then the other", "independent hands"},
	"square":            {"stays square", "square to the line"},
	"wide_hands":        {"hands wide", "catches with wide hands"},
	"resets_hands":      {"loses the fit, resets", "resets hands"},
	"high_pads":         {"pads high", "plays tall"},
	"lunging":           {"lunges, head over toes", "lunges at contact"},
	"crossed_feet":      {"crosses his feet", "feet cross at the top"},
	"stopped_feet":      {"feet stop at contact"},
	"oversets":          {"oversets, beaten inside", "opens the inside"},
	"late_eyes":         {"eyes late", "sees it late"},
	"low_pads":          {"low and under him", "wins the leverage"},
	"strain":            {"strains", "keeps straining"},
	"finish":            {"finishes on the ground", "finishes to the whistle"},
	"quick_get_off":     {"first off the ball", "quick out of the stance"},
	"good_angle":        {"good angle up", "takes the right angle"},
	"latch":             {"latches", "stays latched"},
	"narrow_base":       {"base narrow", "feet too close"},
	"bad_angle":         {"angle too flat", "misses the angle in space"},
	"falls_off":         {"falls off the block", "can't stay on it"},
}

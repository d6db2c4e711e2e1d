package demo

import "slices"

// core factors are graded for everybody, the others by position. Common
// practice, no source.
var core = []string{"strength", "agility", "explosion", "instincts", "finish"}

var lineFactors = []string{"stance_get_off", "feet", "bend", "hand_use", "anchor", "mirror", "balance", "second_level"}

var positionFactors = map[string][]string{
	"quarterback":   {"accuracy", "arm_strength", "pocket_feel", "decisions", "release"},
	"running_back":  {"vision", "contact_balance", "catching", "pass_protection"},
	"receiver":      {"release", "routes", "catching", "run_after_catch"},
	"tight_end":     {"routes", "catching", "hand_use", "in_line_block"},
	"tackle":        lineFactors,
	"guard":         lineFactors,
	"center":        lineFactors,
	"interior_line": {"get_off", "hand_use", "anchor", "pass_rush"},
	"edge":          {"get_off", "bend", "hand_use", "pass_rush", "sets_edge"},
	"linebacker":    {"diagnosis", "shed", "tackling", "coverage"},
	"cornerback":    {"press", "feet", "ball_skills", "tackling"},
	"safety":        {"range", "diagnosis", "ball_skills", "tackling"},
	"specialist":    {"power", "accuracy", "operation_time"},
}

// factors are those that a prospect is graded on.
func factors(position string) []string { return slices.Concat(core, positionFactors[position]) }

// allFactors are the columns of a table of evaluations, in one order.
func allFactors() []string {
	all := slices.Clone(core)
	for _, position := range lineup {
		for _, factor := range positionFactors[position] {
			if !slices.Contains(all, factor) {
				all = append(all, factor)
			}
		}
	}
	return all
}

// praise and doubt say what a grade far up or down means. Factors without words
// of their own are named.
var praise = map[string]string{
	"strength": "Strong through the core", "agility": "Moves easily in space", "explosion": "Explodes out of his hips",
	"instincts": "Sees it before it happens", "finish": "Finishes every play", "stance_get_off": "Quick, quiet out of the stance",
	"feet": "Feet never stop", "bend": "Bends at hips and knees", "hand_use": "Hands on time and inside", "anchor": "Anchors at first contact",
	"mirror": "Mirrors speed without panic", "balance": "Head over toes, seldom on the ground", "second_level": "Takes good angles to the second level",
	"accuracy": "Puts it where only his man gets it", "routes": "Sharp out of his breaks", "catching": "Catches away from his body",
	"pass_rush": "Has a plan as a rusher", "tackling": "Wraps and brings his feet", "ball_skills": "Finds the ball in the air",
}

var doubt = map[string]string{
	"strength": "Needs strength", "agility": "Stiff in space", "explosion": "No pop on contact", "instincts": "Reads it late",
	"finish": "Leaves plays early", "stance_get_off": "Late out of the stance", "feet": "Feet stop at contact", "bend": "Bends from the waist",
	"hand_use": "Hands late and wide", "anchor": "Walked back by power", "mirror": "Can't stay with the counter inside",
	"balance": "Lunges", "second_level": "Misses the smaller man in space", "accuracy": "Scatters it under pressure",
	"routes": "Rounds his breaks", "catching": "Fights the ball", "pass_rush": "One move", "tackling": "Arm tackler", "ball_skills": "Doesn't find the ball",
}

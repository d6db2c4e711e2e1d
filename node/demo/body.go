package demo

import (
	"math"
	"math/rand/v2"

	"plumbline/node/measure"
)

// Body is what can be measured, in the units of package measure.
type Body map[measure.What]int64

// build is the usual body of a position: inches, pounds, seconds. The numbers
// are common practice, no source.
type build struct{ height, weight, arm, hand, forty, vertical, bench float64 }

var builds = map[string]build{
	"quarterback":   {74.5, 218, 32, 9.5, 4.80, 32, 18},
	"running_back":  {70.5, 209, 30.75, 9.25, 4.52, 35, 20},
	"receiver":      {72.75, 199, 31.875, 9.375, 4.49, 36, 14},
	"tight_end":     {76.75, 250, 33, 9.875, 4.72, 34, 20},
	"tackle":        {77.5, 314, 34, 10.125, 5.20, 28.5, 24},
	"guard":         {76, 317, 33.25, 10, 5.26, 28, 26},
	"center":        {75.25, 305, 32.625, 9.875, 5.20, 29, 26},
	"interior_line": {75.25, 304, 33.25, 10, 5.06, 29.5, 27},
	"edge":          {76.25, 262, 33.5, 10, 4.75, 33.5, 23},
	"linebacker":    {73.5, 233, 32, 9.625, 4.66, 34.5, 21},
	"cornerback":    {71.75, 191, 31.25, 9.125, 4.46, 36.5, 14},
	"safety":        {72.5, 203, 31.625, 9.25, 4.52, 36, 16},
	"specialist":    {72.5, 203, 31, 9.25, 4.95, 29, 12},
}

// measure draws the bodies. Size goes together, and what is heavy is slow.
func (w *World) measure() {
	r := w.stream(streamBodies)
	for i := range w.Prospects {
		p := &w.Prospects[i]
		p.Body = builds[p.Position].draw(r, p.Truth)
	}
}

func (b build) draw(r *rand.Rand, truth Truth) Body {
	frame, mass := r.NormFloat64(), r.NormFloat64()
	arm := b.arm + 0.6*frame + 0.5*r.NormFloat64()
	forty := b.forty * (1 + 0.012*mass + 0.018*r.NormFloat64())
	vertical := b.vertical + 2.5*r.NormFloat64()
	return Body{
		measure.Height:      eighths(b.height + 1.1*frame),
		measure.Weight:      int64(math.Round(b.weight*(1+0.03*mass+0.01*frame))) * 10,
		measure.Arm:         eighths(arm),
		measure.Hand:        eighths(b.hand + 0.15*frame + 0.3*r.NormFloat64()),
		measure.Wingspan:    eighths(2*arm + 13.5 + 0.8*r.NormFloat64()),
		measure.Forty:       milliseconds(forty),
		measure.TenSplit:    milliseconds(0.345 * forty * (1 + 0.01*r.NormFloat64())),
		measure.TwentySplit: milliseconds(0.578 * forty * (1 + 0.007*r.NormFloat64())),
		measure.Shuttle:     milliseconds(0.9*forty + 0.12*r.NormFloat64()),
		measure.ThreeCone:   milliseconds(1.48*forty + 0.18*r.NormFloat64()),
		measure.Vertical:    4 * int64(math.Round(2*vertical)),
		measure.BroadJump:   8 * int64(math.Round(48+2*vertical+3*r.NormFloat64())),
		measure.Bench:       max(0, int64(math.Round(b.bench+3*truth.Strength+2*r.NormFloat64()))),
	}
}

func eighths(inches float64) int64 { return int64(math.Round(8 * inches)) }

// milliseconds are rounded to hundredths of a second, as watches show them.
func milliseconds(seconds float64) int64 { return 10 * int64(math.Round(100*seconds)) }

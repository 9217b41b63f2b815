package fusee

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/rate"
)

// Evened is the rate of a run over a wind, as it is and with a fusee.
type Evened struct {
	Turns        []float64    // of the barrel unwound from full wind, growing
	Before       []float64    // rate of the run there, smoothed, s/day; NaN where there is none
	After        []rate.Value // rate with the fusee, s/day, its error that of the run's rate at that torque and of the torque
	SpreadBefore float64      // greatest minus least over those turns, s/day; NaN where the run does not cover them
	SpreadAfter  rate.Value   // its error is that of the run's rate, and of a torque that is off at one end and right at the other
	Mean         rate.Value   // with the fusee, s/day
	Amplitude    rate.Value   // with the fusee, degrees; NaN where the run has none
	Stronger     float64      // by how much the rate changes with a spring 5 % stronger, s/day; NaN where that is not known
	MoreSetUp    float64      // spread with half a turn more set-up, s/day; likewise
}

// Even carries the run's rate through: at each torque it is what the run had where its
// barrel gave as much. The movement is taken to go as long on those turns of the barrel
// as it does now, so that what the fusee gives in one of its turns is spread over as
// many turns of the barrel as it takes up. One run cannot tell what came with the torque
// from what came with time: all of it is put to the torque. It reports false where the run
// does not cover the torques.
func (d *Drive) Even(torque *Curve, f *Fusee, trials []Trial) (*Evened, bool) {
	response := d.response(torque, func(p point) rate.Value { return p.rate })
	if response == nil {
		return nil, false
	}
	per := f.Turns / f.BarrelTurns
	cut := trials[AsCut].Carried
	e := &Evened{Amplitude: none, SpreadBefore: math.NaN(), Stronger: math.NaN(), MoreSetUp: math.NaN()}
	low, high, ok := response.reach(cut.Torque, per)
	if !ok {
		return nil, false
	}
	middle := per * cut.Mean()
	level, slope := response.Errors(middle)
	doubt := response.Slope(middle) * middle * f.Doubt(torque) / 100 // of the torque, in the rate
	e.Mean = rate.Value{X: response.At(middle), SE: math.Hypot(level, doubt)}
	e.SpreadAfter = rate.Value{X: high - low, SE: math.Hypot(slope*middle*trials[AsCut].Spread/100, math.Sqrt2*doubt)}
	if l, h, ok := response.reach(trials[MoreSetUp].Carried.Torque, per); ok && trials[MoreSetUp].Possible {
		e.MoreSetUp = h - l
	}
	if x := 1.05 * middle; x <= response.End() {
		e.Stronger = response.At(x) - response.At(middle)
	}
	if d.Degrees {
		if a := d.response(torque, func(p point) rate.Value { return p.amplitude }); a != nil {
			se, _ := a.Errors(middle)
			e.Amplitude = rate.Value{X: a.At(middle), SE: se}
		}
	}
	e.course(d, response, cut, per, doubt)
	return e, true
}

// response is a figure of the windows over the barrel's torque at their turns, nil where
// there are too few.
func (d *Drive) response(torque *Curve, pick func(point) rate.Value) *Curve {
	within := slices.DeleteFunc(slices.Clone(d.points), func(p point) bool {
		v := pick(p)
		return p.turn < torque.Start() || p.turn > torque.End() || math.IsNaN(v.X) || math.IsNaN(v.SE)
	})
	slices.SortStableFunc(within, func(a, b point) int { return cmp.Compare(torque.At(a.turn), torque.At(b.turn)) })
	x, y, se := grouped(within, func(p point) (float64, rate.Value) { return torque.At(p.turn), pick(p) })
	if len(x) < fewestRows {
		return nil
	}
	return NewCurve(x, y, se)
}

// reach is the least and the greatest figure over torques, each so many times as
// large; false where one of them is beyond the curve.
func (c *Curve) reach(torques []float64, times float64) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, m := range torques {
		if m *= times; m < c.Start() || m > c.End() {
			return 0, 0, false
		}
		y := c.At(m)
		low, high = min(low, y), max(high, y)
	}
	return low, high, true
}

// course fills in both rates, at no more places than a chart takes. doubt is what that of
// the torque comes to in the rate.
func (e *Evened) course(d *Drive, response *Curve, cut Carried, per, doubt float64) {
	every := 1 + len(cut.Torque)/400
	low, high, gap := math.Inf(1), math.Inf(-1), false
	for i := len(cut.Torque) - 1; i >= 0; i -= every {
		m := per * cut.Torque[i]
		se, _ := response.Errors(m)
		before := d.smoothed(cut.Barrel[i])
		e.Turns, e.Before = append(e.Turns, cut.Barrel[i]), append(e.Before, before)
		e.After = append(e.After, rate.Value{X: response.At(m), SE: math.Hypot(se, doubt)})
		low, high, gap = min(low, before), max(high, before), gap || math.IsNaN(before)
	}
	if !gap {
		e.SpreadBefore = high - low
	}
}

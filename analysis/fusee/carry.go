package fusee

import (
	"math"
)

// Carried is the torque at the fusee's arbor over a wind.
type Carried struct {
	Barrel []float64 // turns of the barrel unwound from full wind, falling
	Turn   []float64 // of the fusee from the large end, growing
	Torque []float64 // N·mm
}

// Carry follows a groove with a spring whose torque is so many times that of a curve,
// from the end of the wind, where the barrel stands at to, back to full wind. It
// reports false where the chain would wind the spring beyond the curve.
func (f *Fusee) Carry(torque *Curve, g *Groove, to, times float64) (Carried, bool) {
	var c Carried
	nodes := evenly(g.Turns)
	for i := 1; i < len(nodes); i++ {
		turn := (nodes[i-1] + nodes[i]) / 2 // the slope may jump at a node
		barrel := to - g.Chain(turn)/(2*math.Pi*f.arm)
		c.Barrel, c.Turn = append(c.Barrel, barrel), append(c.Turn, turn)
		c.Torque = append(c.Torque, times*torque.At(barrel)*g.Arm(turn)/f.arm)
	}
	full := to - g.Chain(g.Turns)/(2*math.Pi*f.arm)
	const negligible = 1e-2 // turns: what rounding the radii may come to
	return c, to <= torque.End() && full >= torque.Start()-negligible
}

// Mean is the mean torque over the turns of the fusee, N·mm.
func (c *Carried) Mean() float64 {
	sum := 0.0
	for _, m := range c.Torque {
		sum += m / float64(len(c.Torque))
	}
	return sum
}

// Spread is the greatest torque minus the least, % of the mean.
func (c *Carried) Spread() float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, m := range c.Torque {
		low, high = min(low, m), max(high, m)
	}
	return 100 * (high - low) / c.Mean()
}

// Trial is a way in which a fusee is tried.
type Trial struct {
	Name     string
	Possible bool // false where the spring has no such wind
	Mean     float64
	Spread   float64 // %
	Carried  Carried
}

// The trials, by their place in Trials.
const (
	AsCut = iota
	Stronger
	MoreSetUp
)

// Trials tries the groove as the table has it: with the spring measured, with one 5 %
// stronger, and with half a turn more set-up.
func (f *Fusee) Trials(torque *Curve) []Trial {
	g := cut(f.Rows, f.Pitch)
	trials := []Trial{{Name: "as cut"}, {Name: "spring 5 % stronger"}, {Name: "half a turn more set-up"}}
	for i, how := range []struct{ to, times float64 }{{f.To, 1}, {f.To, 1.05}, {f.To - 0.5, 1}} {
		t := &trials[i]
		t.Carried, t.Possible = f.Carry(torque, g, how.to, how.times)
		t.Mean, t.Spread = t.Carried.Mean(), t.Carried.Spread()
	}
	return trials
}

// Doubt is the greatest standard error of the torque over the turns used, in % of it:
// no fusee is more even than its table.
func (f *Fusee) Doubt(torque *Curve) float64 {
	worst := 0.0
	for i := range gridLines {
		x := f.From + (f.To-f.From)*float64(i)/(gridLines-1)
		se, _ := torque.Errors(x)
		worst = max(worst, 100*se/torque.At(x))
	}
	return worst
}

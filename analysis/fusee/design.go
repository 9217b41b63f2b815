package fusee

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/mat"
)

// Options are what a fusee is made to.
type Options struct {
	BarrelDiameter float64 // of the metal on which the chain lies, mm
	BarrelHeight   float64 // on which it has room, mm; 0 where that is not known
	Chain          float64 // its height, from the metal outwards, mm
	ChainWidth     float64 // along the axis, mm
	Turns          float64 // of the fusee
	SetUp          float64 // turns of the barrel left wound when all chain is on it
	BarrelTurns    float64 // that the barrel turns; 0 for all but the set-up and Reserve
	Pitch          float64 // of the groove, mm
	LeastRadius    float64 // of the chain's middle line that can be cut, mm
	Step           float64 // of the table for the lathe, turns
	Rounding       float64 // of its radii, mm
	Units          Units   // in which a limit is named
}

// Reserve is what is left of the wind at its top where no number of turns is given: a
// spring is not wound until its coils bind, and half a turn more set-up has room.
const Reserve = 0.5

// LimitError is the reason why a fusee cannot be made: it names the limit, and what
// to change.
type LimitError string

// Error implements error.
func (e LimitError) Error() string { return "the fusee cannot be made: " + string(e) }

func limit(format string, args ...any) error { return LimitError(fmt.Sprintf(format, args...)) }

// Fusee is a groove that makes a torque even.
type Fusee struct {
	Options          // BarrelTurns settled
	From, To float64 // turns of the barrel unwound from full wind, at the start of a wind and at its end
	Groove   *Groove
	Rows     []Row   // its table for the lathe, from the large end
	Torque   float64 // even, at the fusee's arbor, N·mm
	TorqueSE float64 // its standard error, those of the curve taken to be of one sign
	Chain    float64 // on the fusee at full wind, mm: the hooks and the stretch to the barrel come to it
	arm      float64 // chain that a radian of the barrel takes up, mm
}

// Design finds the groove. The error is a LimitError. torque must reach from full
// wind to where the spring is let down: the set-up is counted from its end.
func Design(torque *Curve, o Options) (*Fusee, error) {
	f := &Fusee{Options: o, arm: o.barrelArm()}
	if err := f.chooseTurns(torque); err != nil {
		return nil, err
	}
	work := torque.Work(f.From, f.To)
	f.Torque = work / (2 * math.Pi * o.Turns)
	nodes := evenly(o.Turns)
	f.TorqueSE = torque.meanError(f.From, f.To) * f.BarrelTurns / o.Turns
	radius, err := f.radii(nodes, f.levers(torque, nodes))
	if err != nil {
		return nil, err
	}
	f.Groove = newGroove(nodes, o.Pitch, radius)
	f.Chain = f.Groove.Chain(o.Turns)
	f.Rows = f.Groove.rows(o.Step, o.Rounding)
	return f, f.check()
}

// barrelArm is the length of chain that a radian of the barrel takes up, mm.
func (o *Options) barrelArm() float64 {
	return math.Hypot((o.BarrelDiameter+o.Chain)/2, o.ChainWidth/(2*math.Pi))
}

// chooseTurns finds which turns of the spring are used.
func (f *Fusee) chooseTurns(torque *Curve) error {
	spring := torque.End() - torque.Start()
	f.To = torque.End() - f.SetUp
	given := f.BarrelTurns > 0
	if !given {
		f.BarrelTurns = spring - f.SetUp - Reserve
	}
	f.From = f.To - f.BarrelTurns
	switch {
	case f.BarrelTurns <= 0:
		return limit("a set-up of %.2f turns leaves none of the spring's %.2f, of which %.1f stay unused at full wind; less set-up", f.SetUp, spring, Reserve)
	case f.From < torque.Start()-1e-9:
		return limit("a set-up of %.2f and %.2f turns of the barrel are more than the spring's %.2f; less of either", f.SetUp, f.BarrelTurns, spring)
	case f.Pitch < f.ChainWidth:
		return limit("the groove crosses itself: its pitch of %s is less than the chain's width of %s; a larger --pitch", f.Units.length(f.Pitch), f.Units.length(f.ChainWidth))
	}
	f.From = max(f.From, torque.Start())
	if low, at := torque.least(f.From, f.To); low <= 0 {
		return limit("the spring gives no torque at %.2f turns from full wind; more set-up", at)
	}
	coils := f.BarrelTurns + 1
	if f.BarrelHeight > 0 && coils*f.ChainWidth > f.BarrelHeight {
		return limit("the chain is longer than the barrel holds: %.2f coils of %s take %s of its height of %s; at most %.2f turns of the barrel",
			coils, f.Units.length(f.ChainWidth), f.Units.length(coils*f.ChainWidth), f.Units.length(f.BarrelHeight), max(f.BarrelHeight/f.ChainWidth-1, 0))
	}
	return nil
}

// lever is what a radian of the fusee takes up of chain, mm, and how much more a radian
// on.
type lever struct{ arm, slope float64 }

// levers are those at the nodes that make the torque even: the work that is left in the
// spring says where the barrel stands, and there arm times pull is to be the same.
func (f *Fusee) levers(torque *Curve, nodes []float64) []lever {
	levers := make([]lever, len(nodes))
	at := f.To
	for i, turn := range nodes {
		want := 2 * math.Pi * turn * f.Torque
		for range 30 { // Newton's rule; from the node before, a few steps do
			next := at + (torque.Work(at, f.To)-want)/(2*math.Pi*torque.At(at))
			next = min(max(next, f.From), f.To)
			near := math.Abs(next-at) < 1e-12*f.To
			if at = next; near {
				break
			}
		}
		m := torque.At(at)
		arm := f.Torque * f.arm / m
		levers[i] = lever{arm, arm * f.Torque * torque.Slope(at) / (2 * math.Pi) / (m * m)}
	}
	return levers
}

// radii are the course of the radius r that has the levers: r² + q² + r′² is the square of
// the lever, q the pitch for a radian. Its own slope is a small part of that: the course
// without it is a first guess, and Newton's rule goes on from there, with differences of
// neighbours for the change of the slope. The course whose levers are nearest to what they
// should be is kept.
func (f *Fusee) radii(nodes []float64, levers []lever) (*interp.NotAKnotCubic, error) {
	const (
		rounds = 12
		near   = 1e-11 // of a lever
	)
	q := f.Pitch / (2 * math.Pi)
	radii, slopes, off := make([]float64, len(nodes)), make([]float64, len(nodes)), make([]float64, len(nodes))
	for i, l := range levers {
		if radii[i] = math.Sqrt(l.arm*l.arm - q*q - l.slope*l.slope); math.IsNaN(radii[i]) {
			return nil, limit("at turn %.2f from the large end the groove would climb faster than it winds, where a radian takes up %s; more set-up, or fewer turns of the fusee", nodes[i], f.Units.length(l.arm))
		}
	}
	var best *interp.NotAKnotCubic
	least := math.Inf(1)
	for range rounds {
		course := new(interp.NotAKnotCubic)
		if err := course.Fit(nodes, radii); err != nil {
			return nil, limit("%v", err)
		}
		worst := 0.0
		for i, l := range levers {
			slopes[i] = course.PredictDerivative(nodes[i]) / (2 * math.Pi)
			off[i] = radii[i]*radii[i] + q*q + slopes[i]*slopes[i] - l.arm*l.arm
			worst = max(worst, math.Abs(off[i])/(l.arm*l.arm))
		}
		if !(worst < least) {
			break
		}
		if best, least = course, worst; worst < near {
			break
		}
		improve(radii, slopes, off, 2*math.Pi*nodes[1])
	}
	return best, nil
}

// improve takes a step of Newton's rule: radii and slopes change so that r² + r′², which is
// off by so much at each node, is not. h is the angle from node to node.
func improve(radii, slopes, off []float64, h float64) {
	n := len(radii)
	below, on, above := make([]float64, n-1), make([]float64, n), make([]float64, n-1)
	for i := range n {
		first, last := max(i-1, 0), min(i+1, n-1)
		share := slopes[i] / (float64(last-first) * h)
		on[i] = radii[i]
		if first < i {
			below[first] = -share
		} else {
			on[i] -= share
		}
		if last > i {
			above[i] = share
		} else {
			on[i] += share
		}
	}
	var change mat.VecDense
	if mat.NewTridiag(n, below, on, above).SolveVecTo(&change, false, mat.NewVecDense(n, off)) != nil {
		return
	}
	for i := range radii {
		radii[i] -= change.AtVec(i) / 2
	}
}

// check looks for what cannot be cut.
func (f *Fusee) check() error {
	least := f.Radii()[0]
	if limited := max(f.LeastRadius, f.Options.Chain/2); least < limited {
		return limit("its least radius is %s, below the %s that can be cut; at most %.2f turns of the fusee, or less torque at full wind: fewer turns of the barrel",
			f.Units.length(least), f.Units.length(limited), f.Turns*least/limited)
	}
	return nil
}

// Radii are the least and the largest radius of the chain's middle line in the table,
// mm.
func (f *Fusee) Radii() [2]float64 {
	out := [2]float64{math.Inf(1), 0}
	for _, r := range f.Rows {
		out[0], out[1] = min(out[0], r.Radius), max(out[1], r.Radius)
	}
	return out
}

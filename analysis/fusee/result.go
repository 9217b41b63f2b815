package fusee

import (
	"rundown/analysis/runs"
)

// Input is what a result is made of.
type Input struct {
	Table        *Table    // nil takes the run's amplitude for the torque
	TablePath    string    // as it was given
	Run          *runs.Run // nil without one
	HoursPerTurn float64   // of the barrel; 0 takes it from the run's train
	Exponent     float64   // of the amplitude in the torque, where there is no table
	Tolerance    float64   // of the rate, s/day, over the turns that stop-work keeps
	Uneven       float64   // of the torque, %, where there is no run
	Options      *Options  // nil designs no fusee
	Units        Units
}

// Result is what is told of a spring and its fusee. Nothing in it is changed any more.
type Result struct {
	Input
	Torque      *Curve // N·mm, or % of the greatest where it is a proxy
	Friction    Friction
	BothWays    bool   // Friction is known
	Drive       *Drive // nil without a run
	Kept        []Kept
	Recommended int // place in Kept; −1 where none is within the tolerance
	Fusee       *Fusee
	Trials      []Trial
	Doubt       float64 // of the torque over the turns of the fusee, %
	Evened      *Evened // nil where the run does not cover the torques
}

// New works out everything that the input has. The error names the run, or is a
// LimitError.
func New(in Input) (*Result, error) {
	r := &Result{Input: in, Recommended: -1}
	var err error
	if in.Run != nil {
		if r.Drive, err = NewDrive(in.Run, in.HoursPerTurn); err != nil {
			return nil, err
		}
	}
	if in.Table != nil {
		r.Torque = NewCurve(in.Table.Turns, in.Table.Down, nil)
		r.Friction, r.BothWays = in.Table.Friction()
	} else if r.Torque, err = r.Drive.Proxy(in.Exponent); err != nil {
		return nil, naming(in.Run.Path, err)
	}
	r.Kept = StopWork(r.Torque, r.Drive)
	if i, ok := Recommend(r.Kept, r.ByRate(), r.allowed()); ok {
		r.Recommended = i
	}
	if in.Options == nil {
		return r, nil
	}
	if r.Fusee, err = Design(r.Torque, *in.Options); err != nil {
		return nil, err
	}
	r.Trials, r.Doubt = r.Fusee.Trials(r.Torque), r.Fusee.Doubt(r.Torque)
	if r.Drive != nil {
		if e, ok := r.Drive.Even(r.Torque, r.Fusee, r.Trials); ok {
			r.Evened = e
		}
	}
	return r, nil
}

// Proxy tells that the torque is only that which the run's amplitude stands in for.
func (r *Result) Proxy() bool { return r.Table == nil }

// ByRate tells that stop-work is judged by the run's rate, not by the torque.
func (r *Result) ByRate() bool { return r.Drive != nil }

// allowed is the tolerance in the unit of what stop-work is judged by.
func (r *Result) allowed() float64 {
	if r.ByRate() {
		return r.Tolerance
	}
	return r.Uneven
}

// Best is the recommended stop-work: nil where there is none.
func (r *Result) Best() (*Kept, *Stretch) {
	if r.Recommended < 0 {
		return nil, nil
	}
	k := &r.Kept[r.Recommended]
	if r.ByRate() {
		return k, k.ByRate
	}
	return k, &k.ByTorque
}

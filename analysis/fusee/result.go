package fusee

import (
	"strconv"

	"rundown/analysis"
	"rundown/analysis/prose"
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

// Proxy reports whether the torque is only that which the run's amplitude stands in for.
func (r *Result) Proxy() bool { return r.Table == nil }

// ByRate reports whether stop-work is judged by the run's rate, not by the torque.
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

// Units are those in which lengths and torques are shown.
type Units struct {
	Inches, Grams bool // else millimetres, and newton-millimetres
}

// perInch is how many mm an inch is.
const perInch = 25.4

// LengthUnit is "mm" or "in".
func (u Units) LengthUnit() string {
	if u.Inches {
		return "in"
	}
	return "mm"
}

// InMillimetres turns a length in the unit into mm.
func (u Units) InMillimetres(x float64) float64 {
	if u.Inches {
		return perInch * x
	}
	return x
}

// Length turns a length in mm into the unit.
func (u Units) Length(mm float64) float64 {
	if u.Inches {
		return mm / perInch
	}
	return mm
}

// Decimals is to how many places lengths are told apart: those of a hundredth of a
// millimetre.
func (u Units) Decimals() int {
	if u.Inches {
		return 4
	}
	return 2
}

// WriteLength writes a length given in mm.
func (u Units) WriteLength(mm float64) string {
	return prose.Fixed(analysis.Number(u.Length(mm)), u.Decimals(), u.LengthUnit())
}

// TorqueUnit is "N·mm" or "gf·cm".
func (u Units) TorqueUnit() string {
	if u.Grams {
		return "gf·cm"
	}
	return "N·mm"
}

// Torque turns a torque in N·mm into the unit.
func (u Units) Torque(nmm float64) float64 {
	if u.Grams {
		return nmm / perGram
	}
	return nmm
}

// WriteTorque writes a torque given in N·mm.
func (u Units) WriteTorque(nmm float64) string {
	return prose.Plain(analysis.Number(u.Torque(nmm)), u.TorqueUnit())
}

// length writes a length given in mm as it stands in an error.
func (u Units) length(mm float64) string {
	return strconv.FormatFloat(u.Length(mm), 'f', u.Decimals(), 64) + " " + u.LengthUnit()
}

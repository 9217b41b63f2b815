package fusee

import (
	"strconv"

	"rundown/analysis"
	"rundown/analysis/prose"
)

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

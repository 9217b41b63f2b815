package chart

import "rundown/analysis/rate"

// Period draws the period of the oscillator, two beats, in milliseconds
// against elapsed time.
func Period(r Run) *Figure {
	return windowed(r, periods(r))
}

// typicalPeriod is the first period of the run in seconds, or 1 without any.
func (r Run) typicalPeriod() float64 {
	for _, w := range r.Windows {
		if w.Period.X > 0 && finite(w.Period.X) {
			return w.Period.X
		}
	}
	return 1
}

// BeatError draws the beat error in milliseconds against elapsed time: half of
// tick-to-tock minus tock-to-tick.
func BeatError(r Run) *Figure {
	return windowed(r, beatErrors)
}

// Amplitude draws the amplitude against elapsed time, or what stands in for
// it: lift time in milliseconds, or level in dBFS.
func Amplitude(r Run) *Figure {
	q, note := amplitude(r.Kind)
	f := windowed(r, q)
	f.note(note)
	return f
}

// windowed draws a figure of the windows that comes without a smoothed curve.
func windowed(r Run, q quantity) *Figure {
	f, _ := drift(r, q, nil)
	return f
}

// amplitude is the amplitude of a kind as a quantity, and what must be said of
// it.
func amplitude(kind rate.AmplitudeKind) (q quantity, note string) {
	pick := func(w rate.Window) rate.Value { return w.Amplitude }
	switch kind {
	case rate.Degrees:
		return quantity{title: "Amplitude against elapsed time", label: "amplitude (degrees)", unit: "degrees",
			none: "no amplitude was measured", pick: pick, least: 2}, ""
	case rate.LiftTime:
		return quantity{title: "Lift time against elapsed time", label: "lift time (ms)", unit: "ms",
				none: "no lift time was measured", pick: scaled(1e3, pick), least: 0.1},
			"Lift time stands in for amplitude: the shorter it is, the larger the amplitude. With the lift angle it could be given in degrees."
	}
	return quantity{title: "Level of the beats against elapsed time", label: "level of the beats (dBFS)", unit: "dBFS",
			none: "no level was measured", signed: true, pick: pick, least: 1},
		"Level stands in for amplitude: louder beats go with a larger one, but a microphone that was moved looks the same."
}

// scaled picks a figure in a unit of which a second has so many.
func scaled(by float64, pick func(rate.Window) rate.Value) func(rate.Window) rate.Value {
	return func(w rate.Window) rate.Value {
		v := pick(w)
		return rate.Value{X: by * v.X, SE: by * v.SE}
	}
}

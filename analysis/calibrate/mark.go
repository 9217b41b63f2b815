package calibrate

// Mark is an instant of the reference.
type Mark struct {
	Frame   float64 // where it lies in the recording, frames
	Seconds float64 // time by the reference since its first instant
	// Fresh tells that marks from here on are displaced against those before
	// by an unknown time, because samples or periods were lost in between.
	Fresh bool
}

// mark is a Mark, or the mean of several that follow each other.
type mark struct {
	t     float64 // recorder's time: frames over the nominal sample rate, s
	x     float64 // t less the time by the reference, s
	n     float64 // marks averaged
	fresh bool
}

// merged returns the mean of two marks that follow each other.
func (m mark) merged(o mark) mark {
	n := m.n + o.n
	return mark{t: (m.t*m.n + o.t*o.n) / n, x: (m.x*m.n + o.x*o.n) / n, n: n, fresh: m.fresh}
}

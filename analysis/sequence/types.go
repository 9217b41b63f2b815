package sequence

import "rundown/analysis/beat"

// Beat is one beat as it was timed.
type Beat struct {
	Index int64   // counts up, through beats that were not heard
	Time  float64 // s; of no meaning where Heard is false
	SE    float64 // standard error that the sound leaves to Time, s; 0 where not known
	Side  beat.Side
	Heard bool
	// Fresh says that nothing is known of the phase against the beats before: the
	// movement stood still, or the recorder lost an unknown time.
	Fresh bool
}

// Step is a shift for good: the beat and all later ones come late or early.
type Step struct {
	Beat    int64   // Index of the first beat heard that is displaced
	Shift   float64 // s, positive when late
	SE      float64 // standard error of Shift, s
	LogOdds float64 // natural logarithm of the likelihood ratio, with the step over without, less the price of a step
}

// Story is what most probably happened.
type Story struct {
	Steps    []Step  // in order of Beat
	Outliers []int64 // Index of beats displaced alone, ascending
	// Scatter is the standard deviation of the times of ticks and of tocks, in s,
	// about the course that they follow, without steps, outliers, and what comes
	// round with the escape wheel; NaN where it could not be had.
	Scatter [2]float64
	// Own is Scatter without what the sound leaves, as far as Beat.SE says.
	Own [2]float64
	// Uneven is the root mean square of what comes round with the escape wheel
	// without losing time, s; 0 where nothing does.
	Uneven float64
	// Turns are what that is, each over a part of the run, in order of From.
	Turns []Turn
	// Memory is over how many beats, mostly, the rate bends so little that they tell
	// of each other; 0 where it could not be had.
	Memory float64
}

// Lost returns the time that the steps cost together, in s, negative when it was
// gained.
func (s *Story) Lost() float64 {
	sum := 0.
	for _, p := range s.Steps {
		sum += p.Shift
	}
	return sum
}

// Free returns by how much the beat of the given index comes late for all steps
// up to it: what to subtract from its time, in s. Indices must not descend from
// call to call of one returned function.
func (s *Story) Free() func(index int64) float64 {
	next, sum := 0, 0.
	return func(index int64) float64 {
		for next < len(s.Steps) && s.Steps[next].Beat <= index {
			sum += s.Steps[next].Shift
			next++
		}
		return sum
	}
}

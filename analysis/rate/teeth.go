package rate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"rundown/analysis/sequence"
)

// teeth is what comes round with the escape wheel without losing time.
type teeth struct {
	turns []sequence.Turn // in order of From
	at    int             // the one that holds; indices do not descend
	// lever is by how much a beat interval found grows with what beats at each place of
	// the turn that holds are late.
	lever []float64
}

// to moves on to the turn that holds for a beat, and reports whether there is one.
func (t *teeth) to(index int64) bool {
	for t.at+1 < len(t.turns) && t.turns[t.at+1].From <= index {
		t.at++
	}
	return len(t.turns) > 0 && t.turns[t.at].From <= index
}

// late returns by how much the beat of an index comes late by its tooth, s.
func (t *teeth) late(index int64) float64 {
	if !t.to(index) {
		return 0
	}
	turn := &t.turns[t.at]
	return turn.Shape[turn.Place(index)]
}

// variance returns the variance that the covariance of the turn that holds leaves to
// what grows by lever.
func (t *teeth) variance(lever []float64) float64 {
	if len(lever) == 0 {
		return 0
	}
	v := mat.NewVecDense(len(lever), lever)
	return mat.Inner(v, t.turns[t.at].Cov, v)
}

// weighTeeth finds the lever of the interval of the settled fit, whose coefficients
// move the slope by straight.
func (f *fitter) weighTeeth(straight *vector) {
	f.teeth.lever = f.teeth.lever[:0]
	if !f.teeth.to(f.points[len(f.points)-1].index) {
		return
	}
	turn := &f.teeth.turns[f.teeth.at]
	f.teeth.lever = append(f.teeth.lever, make([]float64, len(turn.Shape))...)
	var moves vector
	for k := range moves {
		for l := range straight {
			moves[k] += f.inverse.At(k, l) * straight[l]
		}
	}
	weight := f.sideWeights()
	for i := range f.points {
		p := &f.points[i]
		s := &f.segments[p.segment]
		if p.w > 0 && s.sw > 0 {
			z := plus(p.z, -1/s.sw, s.sz)
			f.teeth.lever[turn.Place(p.index)] += weight[p.side] * p.w * dot(&moves, &z) / f.span
		}
	}
}

// toothed adds up what the teeth leave uncertain of the running time.
type toothed struct {
	at    int       // turn of the windows added last
	lever []float64 // of the time of its windows
	sd    float64   // of those before it, s
}

// add counts a window of so many beats. What earlier parts of the run left is common
// to it: the wheel is the same.
func (t *toothed) add(of *teeth, beats float64) {
	if len(of.lever) == 0 {
		return
	}
	if t.at != of.at || len(t.lever) != len(of.lever) {
		t.close(of)
		t.at, t.lever = of.at, make([]float64, len(of.lever))
	}
	for i, v := range of.lever {
		t.lever[i] += beats * v
	}
}

// close adds what the windows of the turn added last leave, and begins anew.
func (t *toothed) close(of *teeth) {
	if len(t.lever) > 0 {
		before := teeth{turns: of.turns, at: t.at}
		t.sd += math.Sqrt(before.variance(t.lever))
	}
	t.lever = nil
}

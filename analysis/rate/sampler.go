package rate

import "math"

// Phase is the time error of a movement, sampled evenly in beats, the jumps
// taken out: a movement that loses comes later and later, and X grows.
type Phase struct {
	Interval float64   // between samples, s
	Beats    int       // beats averaged in one sample, both sides alike
	Time     []float64 // true time of each sample, s; NaN where X is
	// X is the instant of each sample less that of an even grid, s; NaN where
	// fewer than half of its beats were heard.
	X []float64
}

// sampler averages beats into samples of the phase, a second or so each.
type sampler struct {
	phase   Phase
	started bool
	index   int64   // beat at which the grid starts
	time    float64 // and its time, s
	grid    float64 // beat interval of the grid, s

	block  int64 // number of the sample being averaged
	sum    float64
	offset float64 // of the last beat in it
	n      int
}

// sampleTime is about the duration of a sample, s. Allan deviations begin at
// eight samples, so that averaging within a sample does not matter.
const sampleTime = 1

// add takes the beats of a fitted window that were not rejected; offsets says
// how far jumps have displaced each segment, in seconds, NaN where that is not
// known.
func (s *sampler) add(f *fitter, offsets []float64, interval float64) {
	if !s.started {
		s.started = true
		s.index, s.time, s.grid = f.segments[0].index, f.segments[0].time, interval
		s.phase.Beats = 2 * max(1, int(math.Round(sampleTime/(2*interval))))
		s.phase.Interval = float64(s.phase.Beats) * interval
	}
	per := int64(s.phase.Beats)
	for i := range f.points {
		p := &f.points[i]
		if p.w == 0 || math.IsNaN(offsets[p.segment]) {
			continue
		}
		// The beat moved to the middle of its sample along the local fit.
		n := p.index - s.index
		if b := n / per; b != s.block {
			s.close(b)
		}
		middle := float64(s.block*per) + float64(per-1)/2
		seg := &f.segments[p.segment]
		t := seg.time + f.grid*float64(p.index-seg.index) + p.y - f.beta[side]*p.z[side]
		x := (t - s.time - offsets[p.segment]) - s.grid*float64(n)
		s.sum += x + (interval-s.grid)*(middle-float64(n))
		s.offset = offsets[p.segment]
		s.n++
	}
}

// close ends the sample being averaged and moves on to number next.
func (s *sampler) close(next int64) {
	x, t := math.NaN(), math.NaN()
	if 2*s.n >= s.phase.Beats {
		x = s.sum / float64(s.n)
		middle := (float64(s.block) + 0.5) * float64(s.phase.Beats)
		t = s.time + x + s.offset + s.grid*(middle-0.5)
	}
	s.phase.X = append(s.phase.X, x)
	s.phase.Time = append(s.phase.Time, t)
	for s.block++; s.block < next; s.block++ {
		s.phase.X = append(s.phase.X, math.NaN())
		s.phase.Time = append(s.phase.Time, math.NaN())
	}
	s.sum, s.n = 0, 0
}

// flush ends the last sample.
func (s *sampler) flush() {
	if s.n > 0 {
		s.close(s.block + 1)
	}
}

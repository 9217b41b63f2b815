package analysis

import (
	"io"
	"math"
	"math/bits"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"rundown/dsp/wavio"
)

// readClip returns a real recording of a clock, of a few seconds, and its sample
// rate; without the folder of recordings, the test is skipped.
func readClip(t *testing.T, name string) ([]float32, int) {
	t.Helper()
	dir := os.Getenv("RUNDOWN_RECORDINGS")
	if dir == "" {
		t.Skip("skipped: RUNDOWN_RECORDINGS does not name the folder of real recordings")
	}
	src, err := wavio.Open(filepath.Join(dir, "clocks", name))
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	rate := src.Format().SampleRate
	x := make([]float32, 10*rate)
	n := 0
	for {
		k, err := src.Read([][]float32{x[n:]})
		if n += k; err == io.EOF {
			return x[:n], rate
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// cutter cuts the beats out of a clip: ticks and tocks, each with a little before
// it, and the room between them.
type cutter struct {
	x         []float32
	rate      float64
	period    float64 // of the oscillator, frames
	lead, all int     // frames before a beat, and of a cut
}

func newCutter(x []float32, rate int, period float64) *cutter {
	c := &cutter{x: x, rate: float64(rate), period: period * float64(rate)}
	c.lead = rate / 100
	c.all = min(rate/10, int(0.3*c.period))
	return c
}

// energy is that of a cut in which a beat would begin at a frame.
func (c *cutter) energy(at int) (sum float64) {
	for i := at; i < min(at+c.all/4, len(c.x)-1); i++ {
		d := float64(c.x[i+1] - c.x[i]) // rumble does not count
		sum += d * d
	}
	return sum
}

// phases returns where in the period the two beats come, the louder one first.
func (c *cutter) phases() (out [2]int) {
	step := int(c.rate) / 1000
	var folded []float64
	for at := 0; at < int(c.period); at += step {
		sum := 0.0
		for _, k := range c.places(at) {
			sum += c.energy(k)
		}
		folded = append(folded, sum/float64(len(c.places(at))))
	}
	for side := range out {
		best := -1.0
		for i, v := range folded {
			away := math.Abs(math.Remainder(float64(i*step-out[0]), c.period))
			if v > best && (side == 0 || away > 0.3*c.period) {
				best, out[side] = v, i*step
			}
		}
	}
	return out
}

// places returns the frames at which cuts for a phase begin.
func (c *cutter) places(phase int) (out []int) {
	for at := float64(phase); int(at)+c.all < len(c.x); at += c.period {
		if int(at) >= c.lead {
			out = append(out, int(at))
		}
	}
	return out
}

// cuts returns the beats of a phase, laid over the first one as well as they fit.
func (c *cutter) cuts(phase int) (out [][]float32) {
	places := c.places(phase)
	like := c.like(places[0])
	for i, at := range places {
		best := at
		if i > 0 {
			reach := int(c.rate) / 50
			from, to := max(c.lead, at-reach), min(at+reach, len(c.x)-c.all)
			for at := from; at < to; at++ {
				if at == from || like[at] > like[best] {
					best = at
				}
			}
		}
		out = append(out, c.x[best-c.lead:][:c.all])
	}
	return out
}

// like returns how like the cut at a frame is what begins at each frame; rumble does
// not count.
func (c *cutter) like(first int) []float64 {
	n := 1 << bits.Len(uint(len(c.x)+c.all))
	x, cut := make([]float64, n), make([]float64, n)
	for i := range len(c.x) - 1 {
		x[i+c.lead] = float64(c.x[i+1] - c.x[i])
	}
	copy(cut, x[first:first+c.all/2])
	fft := fourier.NewFFT(n)
	a, b := fft.Coefficients(nil, x), fft.Coefficients(nil, cut)
	for i := range a {
		a[i] *= cmplx.Conj(b[i])
	}
	return fft.Sequence(x, a)
}

// room returns n frames of what lies between the beats, stitched together at
// random.
func (c *cutter) room(n int, phases [2]int, rng *rand.Rand) []float32 {
	const fade = 200
	var quiet [][]float32
	for side := range phases {
		gap := math.Mod(float64(phases[1-side]-phases[side])+c.period, c.period)
		for _, at := range c.places(phases[side]) {
			from, to := at+c.all, at+int(gap)-2*c.lead
			if to < len(c.x) && to-from > 4*fade {
				quiet = append(quiet, c.x[from:to])
			}
		}
	}
	out := make([]float32, n)
	for at := 0; at < n; {
		part := quiet[rng.IntN(len(quiet))]
		part = part[rng.IntN(len(part)/4+1):]
		lay(out, part, at, fade)
		at += len(part) - fade
	}
	return out
}

// lay lays a part over x, fading from one to the other at both ends.
func lay(x, part []float32, at, fade int) {
	for i, v := range part {
		if at+i >= len(x) {
			return
		}
		w := min(1, float32(i+1)/float32(fade), float32(len(part)-i)/float32(fade))
		x[at+i] += w * (v - x[at+i])
	}
}

// TestRealBeats lays real ticks and tocks out over their own room for minutes, at
// times that are known, and expects the rate within its error.
func TestRealBeats(t *testing.T) {
	const gain, scatter = 6., 40e-6
	for _, c := range []struct {
		name   string
		period float64 // s, by hand
		length int     // s
	}{
		{"clock-01.wav", 1.8373, 300}, {"clock-08.wav", 0.4580, 120}, {"clock-09.wav", 0.6673, 120},
	} {
		t.Run(c.name, func(t *testing.T) {
			x, rate := readClip(t, c.name)
			cut := newCutter(x, rate, c.period)
			phases := cut.phases()
			sounds := [2][][]float32{cut.cuts(phases[0]), cut.cuts(phases[1])}
			rng := rand.New(rand.NewPCG(7, uint64(rate)))
			out := cut.room(c.length*rate, phases, rng)
			interval := c.period / 2 / (1 + gain/86400)
			uneven := math.Remainder(float64(phases[1]-phases[0])/float64(rate)-c.period/2, c.period) / 2
			beats := 0
			for at := 0.3; at < float64(c.length)-0.3; at += interval {
				side := beats & 1
				place := int(math.Round((at + uneven*float64(2*side-1) + scatter*rng.NormFloat64()) * float64(rate)))
				lay(out, sounds[side][rng.IntN(len(sounds[side]))], place-cut.lead, cut.lead/4)
				beats++
			}
			opt := settings()
			opt.Nominal = 7200 / c.period
			var got table
			r, err := Run(t.Context(), wavio.FromSamples(rate, out), opt, &got)
			if err != nil || r.Status != OK {
				t.Fatalf("%v, %v", r, err)
			}
			t.Logf("%d and %d cuts; rate %.4f ± %.4f s/day, mark %s, jitter %.1f µs, events %v, %q", len(sounds[0]), len(sounds[1]), r.Rate.Mean, r.Rate.SE, r.Beat.Mark, 1e6*float64(r.Beat.Jitter), r.Events, r.Doubt)
			if off := math.Abs(float64(r.Rate.Mean) - gain); off > 2.5*float64(r.Rate.SE) || off > 0.04 {
				t.Errorf("rate %v ± %v s/day, want %v", r.Rate.Mean, r.Rate.SE, gain)
			}
			if n := r.Beat.Heard; n < int64(beats)*99/100 || n > int64(beats) {
				t.Errorf("%d beats heard, want %d", n, beats)
			}
		})
	}
}

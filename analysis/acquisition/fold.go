package acquisition

import (
	"context"
	"math"
)

// foldSeconds is about how long a value is of an envelope that is folded: a beat
// sounds for as long, and the rate may change meanwhile.
const foldSeconds = 0.004

// cycle is what comes exactly evenly in an envelope.
type cycle struct {
	period, phase float64 // values of the envelope
	z             float64 // by how many standard deviations of noise it stands out
}

// folder folds an envelope, each time as coarse as its period allows.
type folder struct {
	x     []float32 // steadied
	scale float64   // values of the envelope a value of x
	sd    float64   // of x
	fine  float64   // values a period has at most
}

func (s *stretch) folder() *folder {
	f := &folder{x: steadied(s.envelope, int(swellSeconds*s.second())), scale: 1, fine: 500}
	for f.scale < foldSeconds*s.second() {
		f.halve()
	}
	f.sd = rms(f.x)
	return f
}

// swellSeconds is how long what swells and fades is, at least, that is no beat.
const swellSeconds = 0.3

// steadied returns x less its mean over so many values about each.
func steadied(x []float32, about int) []float32 {
	sums := make([]float64, len(x)+1)
	for i, v := range x {
		sums[i+1] = sums[i] + float64(v)
	}
	out := make([]float32, len(x))
	for i, v := range x {
		from, to := max(0, i-about/2), min(len(x), i+about/2+1)
		out[i] = v - float32((sums[to]-sums[from])/float64(to-from))
	}
	return out
}

func (f *folder) halve() { f.x, f.scale = halve(f.x), 2*f.scale }

func rms(x []float32) float64 { return math.Sqrt(power(x)) }

// at makes x no finer than a period from one of so many values on takes.
func (f *folder) at(period float64) {
	for period > f.fine*f.scale {
		f.halve()
		f.sd = rms(f.x)
	}
}

// around returns the clearest fold at periods from p values of x to one more (the
// fast folding algorithm: D. H. Staelin, Proc. IEEE 57, 1969, 724).
func (f *folder) around(p int) cycle {
	rows := len(f.x) / p
	most := 1
	for most < rows {
		most *= 2
	}
	sums, next := make([]float32, most*p), make([]float32, most*p)
	copy(sums, f.x[:rows*p])
	// Of n rows, row d is their sum, the last of them d values later than the first.
	for n := 2; n <= most; n *= 2 {
		for at := 0; at < most; at += n {
			for d := range n {
				early, late := sums[(at+d/2)*p:][:p], sums[(at+n/2+d/2)*p:][:p]
				shift := (d + 1) / 2 % p
				out := next[(at+d)*p:][:p]
				for i, v := range late[shift:] {
					out[i] = early[i] + v
				}
				for i, v := range late[:shift] {
					out[p-shift+i] = early[p-shift+i] + v
				}
			}
		}
		sums, next = next, sums
	}
	best := 0
	for i, v := range sums {
		if v > sums[best] {
			best = i
		}
	}
	period := float64(p)
	if most > 1 {
		period += float64(best/p) / float64(most-1)
	}
	z := float64(sums[best]) / (f.sd*math.Sqrt(float64(rows)) + 1e-9)
	return cycle{period * f.scale, float64(best%p) * f.scale, z}
}

// folds returns the clearest periods at which sounds come exactly evenly, the
// clearest first.
func (s *stretch) folds(ctx context.Context, from, to float64, most int) []candidate {
	f := s.folder()
	var all []candidate
	for q := from; q < to && ctx.Err() == nil; {
		f.at(q)
		p := int(q / f.scale)
		c := f.around(p)
		all = append(all, candidate{period: c.period, z: c.z})
		q = float64(p+1) * f.scale
	}
	return clearest(all, 0.01, most)
}

// even returns the marks of what comes exactly evenly about a period, in samples.
func (s *stretch) evenly(q float64) []float64 {
	const near = 0.005 // more than a period may be off
	f := s.folder()
	f.at(q * (1 + near))
	var best cycle
	for p := int(q * (1 - near) / f.scale); float64(p) < q*(1+near)/f.scale; p++ {
		if c := f.around(p); c.z > best.z {
			best = c
		}
	}
	var out []float64
	for at := best.phase; best.period > 0 && at < float64(len(s.envelope)); at += best.period {
		out = append(out, (at+f.scale/2)*s.block)
	}
	return out
}

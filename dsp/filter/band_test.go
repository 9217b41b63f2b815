package filter

import (
	"math"
	"math/rand/v2"
	"testing"
)

func noise(n int) []float32 {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(r.NormFloat64()) * 0.1
	}
	return x
}

// Four lanes and one must agree, for any number of blocks.
func TestEnergiesAgainstOneLane(t *testing.T) {
	for _, q := range []float64{0.35, 1} {
		b := NewBand(4000, q, 48000)
		warm := b.Warmup()
		for _, block := range []int{1, 7, 48} {
			for n := range 12 {
				x := noise(warm + n*block)
				got := b.Energies(nil, x, block)
				want := make([]float32, n)
				b.oneLane(want, x, block)
				for k := range want {
					if d := math.Abs(float64(got[k] - want[k])); d > 2e-3*0.01 {
						t.Errorf("block %d, %d blocks: energy %d is %g, want %g", block, n, k, got[k], want[k])
					}
				}
			}
		}
	}
}

// The state of a filter dies away to nothing, not to numbers all but zero.
func TestSettle(t *testing.T) {
	for _, c := range [][4]float32{
		{1e-14, 0, 1e-14, 0},
		{1e-20, -1e-14, 1e-20, -1e-14},
		{1e-16, -1e-16, 0, 0},
		{-1e-40, 1e-45, 0, 0},
	} {
		if y1, y2 := flushDenormals(c[0], c[1]); y1 != c[2] || y2 != c[3] {
			t.Errorf("%g and %g settle to %g and %g", c[0], c[1], y1, y2)
		}
	}
}

// The gain is 1 at the centre and 1/√2 at the half-power points, which lie
// Centre/Q apart and have the centre as their geometric mean.
func TestBandGain(t *testing.T) {
	const rate = 192000
	b := NewBand(3000, 1.5, rate)
	half := 3000 / (2 * 1.5)
	edge := math.Sqrt(3000*3000 + half*half)
	for _, c := range []struct{ hz, power float64 }{{3000, 1}, {edge - half, 0.5}, {edge + half, 0.5}, {30, 0}} {
		x := make([]float32, b.Warmup()+rate)
		for i := range x {
			x[i] = float32(math.Sqrt2 * math.Sin(2*math.Pi*c.hz*float64(i)/rate))
		}
		got := b.Energies(nil, x, rate)[0]
		if math.Abs(float64(got)-c.power) > 0.01 {
			t.Errorf("power gain at %g Hz is %g, want %g", c.hz, got, c.power)
		}
	}
}

func BenchmarkEnergies(b *testing.B) {
	for _, c := range []struct {
		name   string
		rate   float64
		silent bool
	}{{"48000", 48000, false}, {"96000", 96000, false}, {"digital silence after a sound", 48000, true}} {
		b.Run(c.name, func(b *testing.B) {
			rate := c.rate
			f := NewBand(4000, 1, rate)
			block := int(rate / 1000)
			x := noise(f.Warmup() + 1000*block)
			if c.silent {
				clear(x[f.Warmup()+block:])
			}
			dst := make([]float32, 0, 1000)
			b.SetBytes(int64(1000 * block))
			for b.Loop() {
				dst = f.Energies(dst[:0], x, block)
			}
		})
	}
}

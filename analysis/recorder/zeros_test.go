package recorder

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"rundown/dsp/wavio"
)

// TestZeros adds stretches of sound block by block and expects the zeros in it to
// the sample, whatever the pieces.
func TestZeros(t *testing.T) {
	const rate, block = 8000, 8
	noise := func(int) bool { return true }
	clicks := func(i int) bool { return i%1600 < 300 } // over silence
	faint := func(i int) bool { return i%97 == 0 }     // so that most milliseconds hold none
	for name, c := range map[string]struct {
		seconds int
		sound   func(i int) bool // whether a sample is not 0
		zeros   []Span
		want    []Span
	}{
		"none":                    {5, noise, nil, nil},
		"in the middle":           {5, noise, []Span{{16003, 16165}}, []Span{{16003, 16165}}},
		"too short to matter":     {5, noise, []Span{{16003, 16040}}, nil},
		"at the start":            {5, noise, []Span{{0, 12345}}, []Span{{0, 12345}}},
		"to the end":              {5, noise, []Span{{12345, 40000}}, []Span{{12345, 40000}}},
		"whole blocks":            {5, noise, []Span{{16000, 24000}}, []Span{{16000, 24000}}},
		"several":                 {200, noise, []Span{{9, 99}, {800001, 900001}, {900010, 900100}}, []Span{{9, 99}, {800001, 900001}, {900010, 900100}}},
		"between clicks":          {200, clicks, nil, nil},
		"between clicks, longer":  {200, clicks, []Span{{800000, 816000}}, nil},
		"clicks that end":         {200, clicks, []Span{{800000, 1600000}}, nil},
		"in what is often silent": {200, faint, []Span{{800000, 816000}}, []Span{{799960, 816061}}},
		"nothing but zeros":       {5, noise, []Span{{0, 40000}}, []Span{{0, 40000}}},
	} {
		rng := rand.New(rand.NewPCG(1, 7))
		x := make([]float32, c.seconds*rate)
		for i := range x {
			if c.sound(i) {
				x[i] = float32(1+rng.IntN(9)) / 32768
			}
		}
		for _, s := range c.zeros {
			clear(x[s.From:s.To])
		}
		for _, piece := range []int{rate, 8 * 1000 * 30, 1600} {
			z := NewZeros(rate, block)
			for at := 0; at < len(x); at += piece {
				s := wavio.Floats(x[at:min(at+piece, len(x))])
				var rough []float32
				if piece == rate {
					rough = s.Differences(nil, 2, 1, block)
				}
				z.Add(s, rough)
			}
			if got := z.Spans(); len(got)+len(c.want) > 0 && !reflect.DeepEqual(got, c.want) {
				t.Errorf("%s, in pieces of %d: %v, want %v", name, piece, got, c.want)
			}
			for _, s := range c.want {
				if got := z.Among(float64(s.From), float64(s.From)+10); got != 10 {
					t.Errorf("%s: %g of the first ten zeros", name, got)
				}
			}
		}
	}
}

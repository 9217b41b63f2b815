package analysis

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rundown/analysis/beat"
)

// TestSlips has a movement out of beat by a part of a lift that grows, of which one side is
// marked by another sound for a while, or none, or which is put in beat: the beats that are
// marked otherwise than most of their side are left out, and no others.
func TestSlips(t *testing.T) {
	const both beat.Side = 2
	vs, mid := twoSounds()
	first := told(3000, func(i int64) float64 { return -mid(i, 0.5+0.2*float64(i)) })
	first.tell(settings(), beat.Report{Period: 0.4, Sounds: vs}, sampling, func(frame float64) float64 { return frame / sampling })
	for _, c := range []struct {
		name     string
		side     beat.Side
		from, to int // beats
		by       float64
		out      int
	}{
		{"ticks by one sound", beat.Tick, 500, 900, -1.6e-3, 200},
		{"tocks by one sound", beat.Tock, 500, 900, 0.6e-3, 200},
		{"to the end", beat.Tock, 1200, 2000, 0.9e-3, 400},
		{"less than two sounds are apart", beat.Tock, 500, 900, 0.1e-3, 0},
		{"put in beat", both, 500, 2000, 1.6e-3, 0},
		{"none", beat.Tock, 0, 0, 0, 0},
	} {
		rng := rand.New(rand.NewPCG(7, 7))
		s := story{marks: first.marks}
		late := 0.0
		for i := range 2000 {
			at := 0.2*float64(i) + 1
			if i == 1000 {
				late = 3e-3 // a hesitation of the movement
			}
			b := beat.Beat{Index: int64(i), Side: beat.Side(i % 2), Heard: i%31 > 0}
			b.Time = at + late + 40e-6*rng.NormFloat64() + (float64(i%2)-0.5)*0.3*s.liftAt(at)
			if i >= c.from && i < c.to {
				switch c.side {
				case both:
					b.Time += (float64(i%2) - 0.5) * c.by
				case b.Side:
					b.Time += c.by
				}
			}
			s.beats = append(s.beats, b)
		}
		before := 0
		for _, b := range s.beats {
			if b.Heard {
				before++
			}
		}
		s.slips()
		out := before
		for i, b := range s.beats {
			if b.Heard {
				out--
			} else if i%31 > 0 && (b.Side != c.side || i < c.from-slipAcross || i >= c.to+slipAcross) {
				t.Fatalf("%s: beat %d is left out", c.name, i)
			}
		}
		if math.Abs(float64(out-c.out)) > 0.1*float64(c.out) {
			t.Errorf("%s: %d left out, want %d", c.name, out, c.out)
		}
		_, said := s.mark()
		if told := strings.Contains(strings.Join(said, " "), c.side.String()+"s are marked by another"); told != (c.out > 0) {
			t.Errorf("%s: said is %v", c.name, told)
		}
	}
}

package analysis

import (
	"math"
	"testing"

	"rundown/analysis/beat"
)

// TestBeatErrorExpected has a beat error that grows with the lift, or does not, and tocks that
// are heard at first only: it is foretold to the end, whichever side is the late one.
func TestBeatErrorExpected(t *testing.T) {
	vs, mid := twoSounds()
	first := told(3000, func(i int64) float64 { return -mid(i, 0.5+0.2*float64(i)) })
	first.tell(settings(), beat.Report{Period: 0.4, Sounds: vs}, sampling, func(frame float64) float64 { return frame / sampling })
	for _, c := range []limp{{share: -0.9}, {share: -0.05}, {}, {share: 0.3}, {fixed: 2e-3}, {fixed: -1e-3, share: 0.1}} {
		s := story{marks: first.marks}
		for i := range 2950 {
			at := 0.2*float64(i) + 1
			b := beat.Beat{Index: int64(i), Side: beat.Side(i % 2), Heard: i%2 == 0 || at < 400}
			b.Time = at + (float64(i%2)-0.5)*(c.fixed+c.share*s.liftAt(at))
			s.beats = append(s.beats, b)
		}
		for at := 30.; at < 590; at += 40 {
			expected, share, _ := s.beatError()
			if got, want := expected(at), c.fixed+c.share*s.liftAt(at); math.Abs(got-want) > 10e-6 || math.Abs(share-c.share) > 0.02 {
				t.Errorf("%+v: %.3f ms at %g s, want %.3f; share %.3f", c, 1e3*got, at, 1e3*want, share)
			}
		}
	}
}

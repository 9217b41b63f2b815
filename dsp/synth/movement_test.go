package synth

import (
	"math"
	"testing"
)

func TestBeatsKeepTheRate(t *testing.T) {
	m := Movement{BeatsPerHour: 28800, Rate: -7.5, BeatError: 2e-3, Jitter: 20e-6}
	const hours = 2
	var beats []Beat
	for b := range m.Beats(1, hours*3600) {
		beats = append(beats, b)
	}
	near(t, "count", float64(len(beats)), hours*28800, 8)
	last := beats[len(beats)-1]
	mean := (last.Steady - beats[0].Steady) / float64(last.Index)
	near(t, "mean rate", 86400*(0.125/mean-1), -7.5, 1e-6)

	// Beat error: half of tick-to-tock minus tock-to-tick.
	var error, jitter float64
	for i := 1; i+1 < len(beats); i += 2 {
		error += (beats[i].Time - beats[i-1].Time) - (beats[i+1].Time - beats[i].Time)
	}
	near(t, "beat error", error/2/float64(len(beats)/2), 2e-3, 1e-6)
	for _, b := range beats {
		d := b.Time - b.Steady - m.side(b.Tock)
		jitter += d * d
	}
	near(t, "jitter", math.Sqrt(jitter/float64(len(beats))), 20e-6, 0.3e-6)
}

func TestLiftTime(t *testing.T) {
	// The published check: lift angle 52°, 28 800 beats an hour, lift time
	// 7.675 ms: 270°.
	m := Movement{}.withDefaults()
	near(t, "lift time", m.liftTime(270, 0.25), 7.675e-3, 0.5e-6)
}

func TestAmplitudeFollowsTheMainspring(t *testing.T) {
	s := Mainspring{RunTime: 3600, Full: 300, End: 120}.withDefaults()
	near(t, "amplitude at full wind", s.amplitude(0), 300, 1e-9)
	near(t, "amplitude at the end", s.amplitude(3600), 120, 1e-9)
	before := 301.0
	for u := range 3600 {
		if a := s.amplitude(float64(u)); a >= before {
			t.Fatalf("amplitude rises at %d s", u)
		} else {
			before = a
		}
	}
}

func TestRateFollowsAmplitude(t *testing.T) {
	m := Movement{
		Rate:        3,
		Isochronism: 0.2,
		Curvature:   -0.004,
		Reference:   250,
		Mainspring:  Mainspring{RunTime: 1200, Full: 300, End: 100},
	}
	for b := range m.Beats(1, 1200) {
		d := b.Amplitude - 250
		near(t, "rate", b.Rate, 3+0.2*d-0.004*d*d, 1e-9)
	}
}

func BenchmarkEightHoursOfBeats(b *testing.B) {
	m := Movement{Mainspring: Mainspring{RunTime: 8 * 3600}, Wander: 1}
	for b.Loop() {
		for range m.Beats(1, 8*3600) {
		}
	}
}

package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/contacts/contactstest"
)

// TestMeanRate compares mean rates of 10-minute and longer runs with the time
// that the movement truly showed, and their errors with what they claim.
func TestMeanRate(t *testing.T) {
	for _, c := range []struct {
		name  string
		beats int
		apart int
		rate  func(float64) float64
		wild  float64
	}{
		{"10 minutes", 3000, 0, nil, 0},
		{"10 minutes, outliers", 3000, 0, nil, 3e-3},
		{"10 minutes, shifts", 3000, 150, nil, 3e-3},
		{"an hour, drift of 100 s/day", 18000, 0, func(t float64) float64 { return 100 * t / 3600 }, 0},
		{"an hour, drift and shifts", 18000, 60, func(t float64) float64 { return 100 * t / 3600 }, 0},
		{"an hour, shifts", 18000, 500, nil, 3e-3},
		{"an hour, a shift every few beats", 18000, 12, nil, 0},
	} {
		var z, off []float64
		for seed := range uint64(8) {
			m := movement{seed: seed + 100, interval: 0.2, beats: c.beats, scatter: 30e-6, beatError: 4e-3, rate: c.rate, outliers: 0.02, wild: c.wild}
			if c.apart > 0 {
				m.jumps = spaced(m.beats, c.apart, seed)
			}
			tr := m.run()
			ws, a := tr.windows(60)
			r := a.Finish(ws, Settings{})
			last := len(tr.clean) - 1
			want := 86400 * (0.2*float64(last)/(tr.clean[last]-tr.clean[0]) - 1)
			off = append(off, r.Rate.X-want)
			z = append(z, (r.Rate.X-want)/r.Rate.SE)
			if r.NominalPerHour != 18000 || r.NominalSource != FromCustom || r.Counted != int64(c.beats) {
				t.Fatalf("%s: %+v", c.name, r)
			}
			lost := 0.
			for _, e := range m.jumps {
				lost += e.Shift
			}
			if math.Abs(r.Lost-lost) > 1e-12 {
				t.Errorf("%s: %v s lost, want %v", c.name, r.Lost, lost)
			}
		}
		t.Logf("%s: error %.5f s/day RMS, %.2f of the standard error", c.name, rms(off), rms(z))
		if rms(off) > 0.03 || rms(z) > 1.7 || rms(z) < 0.4 {
			t.Errorf("%s: error %.5f s/day RMS, %.2f of the standard error", c.name, rms(off), rms(z))
		}
	}
}

// TestMeanRateToTheLastBeats has a movement that loses much in its last two seconds, which
// lies in a window of its own with too few beats for a fit: the mean counts them.
func TestMeanRateToTheLastBeats(t *testing.T) {
	m := movement{seed: 5, interval: 0.2, beats: 1506, scatter: 10e-6, beatError: 4e-3, rate: func(t float64) float64 {
		if t > 299.2 {
			return -2000
		}
		return 0
	}}
	tr := m.run()
	ws, a := tr.windows(60)
	last := len(tr.clean) - 1
	want := 86400 * (0.2*float64(last)/(tr.clean[last]-tr.clean[0]) - 1)
	if r := a.Finish(ws, Settings{}); math.Abs(r.Rate.X-want) > 3*r.Rate.SE || r.Rate.SE > 0.02 {
		t.Errorf("mean rate %.4f ± %.4f s/day, want %.4f", r.Rate.X, r.Rate.SE, want)
	}
}

// TestPeriodOfOneWindow expects the run's mean to be as exact as the window
// that it consists of.
func TestPeriodOfOneWindow(t *testing.T) {
	tr := movement{seed: 2, interval: 0.2, beats: 301, scatter: 30e-6, beatError: 4e-3}.run()
	ws, a := tr.windows(70)
	r := a.Finish(ws, Settings{})
	if math.Abs(r.Period.X-ws[0].Period.X) > 1e-9 || math.Abs(r.Period.SE/ws[0].Period.SE-1) > 0.02 {
		t.Errorf("run %v, window %v", r.Period, ws[0].Period)
	}
}

// TestPooled draws scatters of few degrees of freedom, some of loud windows.
func TestPooled(t *testing.T) {
	const freedom = 6
	rng := rand.New(rand.NewPCG(1, 4))
	var in []scatter
	for i := range 20000 {
		s := 0.
		for range freedom {
			x := 30e-6 * rng.NormFloat64()
			s += x * x / freedom
		}
		if i%100 == 0 {
			s *= 1000
		}
		in = append(in, scatter{s, freedom})
	}
	if got := pooled(in); math.Abs(got-30e-6) > 0.5e-6 {
		t.Errorf("%v s", got)
	}
}

func TestFinish(t *testing.T) {
	m := movement{
		seed: 9, interval: 0.2, beats: 18000, scatter: 30e-6, beatError: -2e-3, unheard: 0.01, level: -35,
		rate:  func(t float64) float64 { return 8 - 12*t/3600 },
		jumps: []beat.Event{{Kind: beat.Stop, Beat: 9000, Shift: 90}},
	}
	tr := m.run()
	mark := told(tr.end, contactstest.Growing(9e-3, 10.1e-3, tr.end))
	ws, a := tr.windows(60)
	r := a.Finish(ws, Settings{BeatsPerHour: 18000, LiftAngle: 46, Marks: []Mark{mark}})
	near := func(name string, got, want, within float64) {
		if !(math.Abs(got-want) <= within) {
			t.Errorf("%s %v, want %v", name, got, want)
		}
	}
	near("rate", r.Rate.X, 2, 0.01)
	near("first", r.First.X, 8, 0.15)
	near("last", r.Last.X, -4, 0.15)
	near("spread", r.Spread, 12, 0.4)
	near("lost", r.Lost, 90, 0)
	near("beat error", r.BeatError.X, -2e-3, 3*r.BeatError.SE)
	near("jitter", r.Jitter, 30e-6, 0.5e-6)
	amplitude := func(at float64) float64 {
		lift, _ := mark.Reading.Lift.Lift(at)
		return 23 / math.Sin(math.Pi*lift/0.4)
	}
	near("first amplitude", r.FirstAmplitude, amplitude(30), 0.1)
	near("last amplitude", r.LastAmplitude, amplitude(ws[len(ws)-1].middle()), 0.1)
	if r.AmplitudeKind != Degrees || r.NominalSource != FromFlag {
		t.Errorf("%+v", r)
	}
	if _, ok := PredictWander(Stabilities(a.Phase(), r.Jitter)); !ok {
		t.Error("no stability")
	}
}

func TestFinishNothing(t *testing.T) {
	a := NewAccumulator(60, nil)
	ws := a.Flush(nil, 150)
	r := a.Finish(ws, Settings{})
	for name, x := range map[string]float64{
		"rate": r.Rate.X, "period": r.Period.X, "first": r.First.X, "spread": r.Spread,
		"jitter": r.Jitter, "beat error": r.BeatError.X, "amplitude": r.Amplitude,
	} {
		if !math.IsNaN(x) {
			t.Errorf("%s of nothing: %v", name, x)
		}
	}
	if _, ok := StableBand(ws, 10); ok {
		t.Error("a band of nothing")
	}
	if s := Stabilities(a.Phase(), r.Jitter); len(s) != 0 {
		t.Errorf("stability of nothing: %v", s)
	}
}

// TestMeanRateWhereItBends has steps in a run whose rate falls ever faster: the interval
// across each of them is that of the curve there.
func TestMeanRateWhereItBends(t *testing.T) {
	m := movement{seed: 3, interval: 0.2, beats: 3000, scatter: 2e-6, rate: func(t float64) float64 { return -100 * math.Pow(t/600, 4) }, jumps: spaced(3000, 30, 3)}
	tr := m.run()
	ws, a := tr.windows(60)
	last := len(tr.clean) - 1
	want := 86400 * (0.2*float64(last)/(tr.clean[last]-tr.clean[0]) - 1)
	if r := a.Finish(ws, Settings{}); math.Abs(r.Rate.X-want) > 0.005 {
		t.Errorf("mean rate %.4f ± %.4f s/day, want %.4f", r.Rate.X, r.Rate.SE, want)
	}
}

// TestSteepEnd has movements that lose more from beat to beat before they stop than a cubic
// follows, the last one with a hesitation shortly before: the last window and the mean go
// with them.
func TestSteepEnd(t *testing.T) {
	const beats, interval = 2950, 0.2
	for seed := range uint64(8) {
		m := movement{seed: seed, interval: interval, beats: beats, scatter: 15e-6, beatError: 4e-3, jumps: spaced(beats, 300, seed), rate: func(t float64) float64 {
			return 20 - 30*math.Exp((t-beats*interval)/(8+float64(seed)))
		}}
		if seed == 7 {
			m.jumps = []beat.Event{{Kind: beat.Late, Beat: beats - 34, Shift: 3e-3}}
		}
		tr := m.run()
		ws, a := tr.windows(60)
		r := a.Finish(ws, Settings{BeatsPerHour: 3600 / interval})
		want := 86400 * (interval*float64(beats-1)/(tr.clean[beats-1]-tr.clean[0]) - 1)
		if math.Abs(r.Rate.X-want) > 4*r.Rate.SE || r.Rate.SE > 0.02 {
			t.Errorf("seed %d: mean rate %.4f ± %.4f s/day, want %.4f", seed, r.Rate.X, r.Rate.SE, want)
		}
		w, first := ws[len(ws)-1], 0
		for tr.batch.Beats[first].Time < w.Start {
			first++
		}
		want = 86400 * (interval/trueSlope(tr.clean[first:]) - 1)
		if math.Abs(w.Rate.X-want) > 4*w.Rate.SE {
			t.Errorf("seed %d: last window %.4f ± %.4f s/day, want %.4f", seed, w.Rate.X, w.Rate.SE, want)
		}
	}
}

// TestOneSideUnheard has a beat error that grows, and tocks that are hardly heard while it
// does, some of them wrongly: rate and mean are those of both sides, by what is expected.
func TestOneSideUnheard(t *testing.T) {
	const beats, interval = 1790, 0.2
	beatError := func(at float64) float64 { return 10e-3 + 8e-3*math.Exp((at-beats*interval)/30) }
	mark := told(400, contactstest.Growing(9e-3, 14e-3, 400))
	for seed := range uint64(5) {
		tr := movement{seed: seed, interval: interval, beats: beats, scatter: 15e-6}.run()
		for i := range tr.batch.Beats {
			b := &tr.batch.Beats[i]
			b.Time += (float64(b.Side) - 0.5) * beatError(b.Time)
			if b.Time > 310 && b.Side == beat.Tock {
				b.Heard = i%13 == 0
				b.Time += 1e-3 * float64(i%26) / 13
			}
		}
		a := NewAccumulator(60, nil)
		a.Expect(beatError, 1, 0.2)
		ws := a.Flush(a.Append(nil, &tr.batch), tr.end)
		r := a.Finish(ws, Settings{BeatsPerHour: 3600 / interval, Marks: []Mark{mark}})
		if math.Abs(r.Rate.X) > 2*r.Rate.SE || r.Rate.SE > 0.3 {
			t.Errorf("seed %d: mean rate %.3f ± %.3f s/day, want 0", seed, r.Rate.X, r.Rate.SE)
		}
		for i, w := range ws {
			if math.Abs(w.Rate.X) > 3*w.Rate.SE || i < 5 && w.Rate.SE > 0.2 {
				t.Errorf("seed %d, window %d: %.3f ± %.3f s/day, want 0", seed, i, w.Rate.X, w.Rate.SE)
			}
		}
	}
}

// TestMeanRateWhereNoFitFollows has a rate and a beat error that run away in the last
// seconds, where the last window's curve leaves all beats out.
func TestMeanRateWhereNoFitFollows(t *testing.T) {
	m := movement{seed: 4, interval: 0.13, beats: 3600, scatter: 30e-6, beatError: 14e-3, rate: func(t float64) float64 {
		return -40 - 60*math.Exp((t-468)/8)
	}}
	tr := m.run()
	for i := range tr.batch.Beats {
		b := &tr.batch.Beats[i]
		b.Time += (float64(b.Side) - 0.5) * 10e-3 * math.Exp((b.Time-468)/6)
	}
	ws, a := tr.windows(60)
	last := len(tr.clean) - 1
	want := 86400 * (0.13*float64(last)/(tr.clean[last]-tr.clean[0]) - 1)
	if r := a.Finish(ws, Settings{BeatsPerHour: 3600 / 0.13}); math.Abs(r.Rate.X-want) > 4*r.Rate.SE || r.Rate.SE > 0.1 {
		t.Errorf("mean rate %.4f ± %.4f s/day, want %.4f", r.Rate.X, r.Rate.SE, want)
	}
}

// TestMeanRateOverFaintBeats has half a minute in which hardly any beat was heard, and
// which slipped meanwhile, and then loses more: the mean counts that half a minute.
func TestMeanRateOverFaintBeats(t *testing.T) {
	m := movement{seed: 8, interval: 0.2, beats: 1500, scatter: 10e-6, jumps: []beat.Event{{Kind: beat.Late, Beat: 1000, Shift: 4e-3}}, rate: func(t float64) float64 {
		if t > 170 {
			return -200
		}
		return 0
	}}
	tr := m.run()
	for i := 850; i < 1000; i++ {
		tr.batch.Beats[i].Heard = false
	}
	ws, a := tr.windows(60)
	last := len(tr.clean) - 1
	want := 86400 * (0.2*float64(last)/(tr.clean[last]-tr.clean[0]) - 1)
	if r := a.Finish(ws, Settings{}); math.Abs(r.Rate.X-want) > 0.05 {
		t.Errorf("mean rate %.4f ± %.4f s/day, want %.4f", r.Rate.X, r.Rate.SE, want)
	}
}

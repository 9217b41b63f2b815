package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/synth"
)

// clock is a movement that runs for a few hours: out of beat, wandering, with a
// hesitation or two an hour.
func clock(hours float64) synth.Movement {
	return synth.Movement{
		BeatsPerHour: 18000, Rate: 4, BeatError: 0.4e-3, Isochronism: 0.35, Wander: 0.25, LiftAngle: 52, Least: 150,
		Mainspring: synth.Mainspring{RunTime: hours * 3600, Full: 285, End: 145},
		Faults: []synth.Fault{
			{Kind: "late", Occasion: synth.Occasion{PerHour: 1.5}, Size: 20e-3},
			{Kind: "missed", Occasion: synth.Occasion{PerHour: 1}},
		},
	}
}

// recorded is a movement as an analysis of its recording would have it, seconds
// long, its sound left out.
func recorded(t testing.TB, m synth.Movement, seed uint64, seconds float64) *runs.Run {
	t.Helper()
	r := &runs.Run{Path: "run", Kind: rate.Degrees}
	var residuals []float32
	a := rate.NewAccumulator(60, func(_ *rate.Window, beats []beat.Beat, residual []float64) {
		for i := range beats {
			residuals = append(residuals, float32(residual[i]))
		}
	})
	var batch beat.Batch
	var lifts [][]float64 // by window
	late := 0.0
	last := synth.Beat{}
	for b := range m.Beats(seed, seconds) {
		shift := b.Time - b.Steady - late
		if b.Index > 0 && math.Abs(shift) > 1.5e-3 { // beat error and jitter are less
			late += shift
			batch.Events = append(batch.Events, beat.Event{Kind: beat.Late, Beat: b.Index, Start: b.Time, End: b.Time, Shift: shift})
		}
		if !b.Audible {
			batch.Events = append(batch.Events, beat.Event{Kind: beat.Missed, Beat: b.Index, Start: b.Time, End: b.Time})
		}
		batch.Beats = append(batch.Beats, beat.Beat{Index: b.Index, Time: b.Time, Level: -30, Side: beat.Side(b.Index & 1), Heard: b.Audible})
		if w := int(b.Time / 60); w == len(lifts) {
			lifts = append(lifts, nil)
		}
		lifts[len(lifts)-1] = append(lifts[len(lifts)-1], b.Lift)
		if len(batch.Beats) == 1000 {
			r.Events = append(r.Events, batch.Events...)
			r.Windows = a.Append(r.Windows, &batch)
			batch.Reset()
		}
		last = b
	}
	r.Events = append(r.Events, batch.Events...)
	r.Windows = a.Append(r.Windows, &batch)
	if last.Time < seconds-1 {
		stop := beat.Batch{Events: []beat.Event{{Kind: beat.Stop, Beat: last.Index, Start: last.Time, End: seconds}}}
		r.Events = append(r.Events, stop.Events...)
		r.Windows = a.Append(r.Windows, &stop)
	}
	r.Windows = a.Flush(r.Windows, seconds)
	run := a.Finish(r.Windows, rate.Settings{LiftAngle: m.LiftAngle})
	setAmplitudes(r.Windows, lifts, m.LiftAngle, seed)
	r.Residuals = residuals
	r.Summary = analysis.Summary{
		Schema: 1, Status: analysis.OK,
		Recording: analysis.Recording{SampleRate: 48000, Duration: analysis.Number(seconds), ClockVerified: true},
		Beat: analysis.Beat{
			Nominal: analysis.Number(run.NominalPerHour), Measured: analysis.Number(7200 / run.Period.X), Period: analysis.Number(run.Period.X),
			Counted: run.Counted, Heard: run.Heard, First: 0.1, Last: analysis.Number(last.Time), Mark: analysis.MidLift,
		},
		Rate:       analysis.Rate{Mean: analysis.Number(run.Rate.X), Spread: analysis.Number(run.Spread)},
		StableBand: analysis.StableBand{Tolerance: 10},
	}
	return r
}

// setAmplitudes gives each window the amplitude of its lift times, which are
// known to 4 µs.
func setAmplitudes(ws []rate.Window, lifts [][]float64, angle float64, seed uint64) {
	const se = 4e-6
	rng := rand.New(rand.NewPCG(seed, 31))
	nan := rate.Value{X: math.NaN(), SE: math.NaN()}
	for i := range ws {
		w := &ws[i]
		w.Lift, w.Amplitude = nan, nan
		if math.IsNaN(w.Period.X) || i >= len(lifts) {
			continue
		}
		w.Lift = rate.Value{X: stat.Mean(lifts[i], nil) + se*rng.NormFloat64(), SE: se}
		phase := math.Pi * w.Lift.X / w.Period.X
		w.Amplitude.X = angle / 2 / math.Sin(phase)
		w.Amplitude.SE = w.Amplitude.X / math.Tan(phase) * math.Pi / w.Period.X * se
	}
}

func metric(t testing.TB, c *Comparison, name string) *Metric {
	t.Helper()
	for i := range c.Metrics {
		if c.Metrics[i].Name == name {
			return &c.Metrics[i]
		}
	}
	t.Fatalf("there is no metric %q", name)
	return nil
}

func compared(t testing.TB, before, after *runs.Run, by Alignment) *Comparison {
	t.Helper()
	c, err := Runs([]*runs.Run{before}, []*runs.Run{after}, Options{By: by})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

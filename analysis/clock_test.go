package analysis

import (
	"math"
	"strings"
	"testing"

	"rundown/analysis/calibrate"
	"rundown/dsp/synth"
)

// beside is a recording of a movement that gains 8 s a day, with a quartz clock
// on the second channel, by a recorder whose clock is fast and drifts.
func beside(seconds float64, change func(*synth.Reference)) synth.Recording {
	rec := synth.Recording{
		Seed: 12, Duration: seconds,
		Movement: synth.Movement{Rate: 8},
		Recorder: synth.Recorder{
			SampleRate: 8000, ClockPPM: 37.5, ClockDrift: 20,
			Reference: synth.Reference{Hz: 1, Scatter: 20e-6},
		},
	}
	if change != nil {
		change(&rec.Recorder.Reference)
	}
	return rec
}

// follow analyses the first channel by the clock on the second one.
func follow(t *testing.T, rec synth.Recording) *Result {
	t.Helper()
	series, ok, err := calibrate.Listen(t.Context(), rec.Render(), calibrate.Options{Hz: 1, Channel: 2})
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	opt := settings()
	opt.Channel, opt.Reference = 1, calibrate.NewCurve(series)
	opt.Heard = NewReference(2, series, opt.Reference)
	r, err := Run(t.Context(), rec.Render(), opt, &table{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A clock that drifts by 7 ppm within the recording, 0.6 s a day, does no harm.
func TestReferenceFollowsTheClock(t *testing.T) {
	for name, change := range map[string]func(*synth.Reference){
		"whole": nil,
		"lost":  func(r *synth.Reference) { r.LostAt, r.LostFor = 200, 150 },
	} {
		r := follow(t, beside(720, change))
		near(t, name+": mean rate", r.Rate.Mean, 8, 0.03)
		near(t, name+": clock, ppm", r.Recording.ClockPPM, 37.5+20*360./3600, 4*float64(r.Recording.ClockSE)+1e-3)
		near(t, name+": first, ppm", r.Recording.Reference.First, 37.5, 0.3)
		near(t, name+": last, ppm", r.Recording.Reference.Last, 37.5+20*720./3600, 0.3)
		near(t, name+": duration", r.Recording.Duration, 720, 1e-3)
		if !r.Recording.ClockVerified || r.Recording.ClockSource != ClockReference {
			t.Errorf("%s: clock verified %v, source %q", name, r.Recording.ClockVerified, r.Recording.ClockSource)
		}
		if len(r.ClockErrors) != len(r.Windows) {
			t.Fatalf("%s: %d errors of the clock for %d windows", name, len(r.ClockErrors), len(r.Windows))
		}
		for i, w := range r.Windows {
			// All is allowed for, errors of scatter and clock together.
			most := 5 * math.Hypot(w.Rate.SE, r.ClockErrors[i])
			if d := math.Abs(w.Rate.X - 8); w.Beats > 200 && d > most {
				t.Errorf("%s: window %d is off by %.3f s/day, more than %.3f", name, i, d, most)
			}
		}
		lost := r.Recording.Reference.Lost
		if name == "whole" && len(lost) != 0 || name == "lost" && (len(lost) != 1 || math.Abs(float64(lost[0].Start)-200) > 3) {
			t.Errorf("%s: lost %v", name, lost)
		}
	}
}

func TestClockErrorsAreToldApart(t *testing.T) {
	known, unknown := settings(), settings()
	known.ClockPPM, known.ClockSE, known.ClockVerified = 20, 0.5, true
	for name, c := range map[string]struct {
		opt    Options
		source ClockSource
		se     float64 // ppm
	}{
		"given":   {known, ClockGiven, 0.5},
		"unknown": {unknown, ClockUnknown, math.NaN()},
	} {
		r, err := run(t.Context(), silence(), c.opt, &table{}, scripted(movement, 610, 100))
		if err != nil {
			t.Fatal(err)
		}
		for what, got := range map[string]Number{
			"ppm": r.Recording.ClockSE, "mean": r.Rate.ClockSE / perPPM, "band": r.StableBand.ClockSE / perPPM,
			"window": Number(r.ClockErrors[3] / perPPM),
		} {
			if math.IsNaN(c.se) != !got.Known() || got.Known() && math.Abs(float64(got)-c.se) > 1e-9 {
				t.Errorf("%s: error of the clock in %s is %v, want %v", name, what, got, c.se)
			}
		}
		if r.Recording.ClockSource != c.source {
			t.Errorf("%s: source %q", name, r.Recording.ClockSource)
		}
	}
}

func TestStabilityOfARun(t *testing.T) {
	m := movement
	m.Wander = 2 // s/day in an hour: σ_y(τ) = 2/86400 · √(τ/3600)/√3
	r, err := run(t.Context(), silence(), settings(), &table{}, scripted(m, 10000, 100))
	if err != nil {
		t.Fatal(err)
	}
	s := r.Summary.Stability
	want := 2 * math.Sqrt(24./3)
	if s == nil || r.Wander == nil || !(float64(s.Wander) > want/2.5 && float64(s.Wander) < want*2.5) || s.AtFloor {
		t.Errorf("stability %+v, want a wander of about %.1f s", s, want)
	}
	if len(r.ClockFloor) != len(r.Stabilities) || len(r.Stabilities) < 5 {
		t.Errorf("%d floors for %d averaging times", len(r.ClockFloor), len(r.Stabilities))
	}
	m.Wander = 0
	if r, err = run(t.Context(), silence(), settings(), &table{}, scripted(m, 4000, 100)); err != nil {
		t.Fatal(err)
	}
	if !r.Summary.Stability.AtFloor || !strings.Contains(r.Summary.Stability.Noise, "phase") {
		t.Errorf("a movement without wander: %+v", r.Summary.Stability)
	}
}

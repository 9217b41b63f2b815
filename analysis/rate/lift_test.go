package rate

import (
	"math"
	"testing"

	"rundown/analysis/contacts"
	"rundown/analysis/contacts/contactstest"
)

// TestDegrees checks the amplitude of lift angle 52°, 28 800 beats per hour and
// lift time 7.675 ms: 270° (common practice).
func TestDegrees(t *testing.T) {
	a := degrees(Value{7.675e-3, 20e-6}, 0, 0.25, 52)
	if math.Abs(a.X-270) > 0.05 {
		t.Errorf("%v°, want 270°", a.X)
	}
	up, down := degrees(Value{7.655e-3, 0}, 0, 0.25, 52), degrees(Value{7.695e-3, 0}, 0, 0.25, 52)
	if want := (up.X - down.X) / 2; math.Abs(a.SE-want) > 1e-3*want {
		t.Errorf("standard error %v°, by difference %v°", a.SE, want)
	}
	// The mean over a lift that grows from 14 to 18 ms, by numeric quadrature.
	var mean, lift, squares float64
	const parts = 1000
	for i := range parts {
		t := 14e-3 + 4e-3*(float64(i)+0.5)/parts
		mean += degrees(Value{t, 0}, 0, 0.25, 52).X / parts
		lift += t / parts
		squares += t * t / parts
	}
	if a := degrees(Value{lift, 0}, squares-lift*lift, 0.25, 52).X; math.Abs(a-mean) > 0.05 {
		t.Errorf("%v° in the mean, want %v°", a, mean)
	}
	for _, bad := range []float64{0, -1e-3, 0.2, math.NaN()} {
		if a := degrees(Value{bad, 0}, 0, 0.25, 52); !math.IsNaN(a.X) {
			t.Errorf("a lift of %v s gives %v°", bad, a.X)
		}
	}
}

// told is what is read from beats whose lift goes as given, for so many seconds
// of a movement of 18 000 an hour. Its sound is sampled coarsely, to be quick.
func told(end float64, lift func(t float64) float64) Mark {
	side := []contactstest.Contact{{At: 0, Level: 22, Modes: contactstest.Dull}, {At: 1, Level: 28, Modes: contactstest.Hollow}}
	s := contactstest.Scene{
		Seed: 4, Rate: 16000, Period: 0.4, Seconds: end, Lift: lift,
		Sides: [2][]contactstest.Contact{side, side}, Marks: [2]int{1, 1}, Blur: 3e-6,
	}
	stacks := s.Stacks()
	r := contacts.Read(stacks.Blocks(), stacks.Pre, s.Rate, contacts.NewWhitener(s.Room(), s.Rate), contacts.Limits{Period: s.Period}, s.Clock)
	return Mark{Reading: r}
}

// minutes makes windows of a minute with a period of 0.4 s and a level that
// changes by so many dB a second.
func minutes(end, slope float64) []Window {
	var ws []Window
	for s := 0.; s < end; s += 60 {
		ws = append(ws, Window{Start: s, End: s + 60, begin: s, end: s + 60, Beats: 300, Heard: 300, Period: Value{0.4, 1e-8}, BeatError: Value{0, 1e-6}, Level: Value{-30 + slope*s, 0.01}})
	}
	return ws
}

// TestMarksWidenErrors expects the errors of period and beat error to hold what
// the mark leaves open: as the reading has it, or what an unknown mark in a usual
// lift could do while the loudness changes, and nothing without a reading's doubt
// or a change.
func TestMarksWidenErrors(t *testing.T) {
	const end = 1200
	known := told(end, contactstest.Growing(9e-3, 12e-3, end))
	if !known.Reading.Told() {
		t.Fatal(known.Reading.Doubt)
	}
	doubt := Mark{Reading: contacts.Reading{Doubt: "it was not heard"}}
	// A loudness that falls by a dB in a minute goes with a lift that grows by an
	// eighth in it: 14 ms of 0.4 s by 27 µs a second, of which the mark takes 0.29.
	const drift = 0.4 * 27e-6 * 0.29
	// Either side's mark is anywhere in those 14 ms, with that standard deviation.
	untold := 14e-3 * 0.29 * math.Sqrt2
	for _, c := range []struct {
		name           string
		marks          []Mark
		slope          float64 // dB a second
		least, most    float64 // of the period's standard error, s
		uneven, lifted float64 // of the beat error's; of the lift time in mid-run, s
	}{
		{"told", []Mark{known}, 0, 1e-9, 4e-8, known.Reading.UnevenSE(), 10.5e-3},
		{"not told, level", []Mark{doubt}, 0, 1e-8, 0.05 * drift, untold, math.NaN()},
		{"not told, falling", []Mark{doubt}, -1. / 60, 0.9 * drift, 1.1 * drift, untold, math.NaN()},
		{"not told, rising", []Mark{doubt}, 1. / 60, 0.9 * drift, 1.1 * drift, untold, math.NaN()},
	} {
		ws := minutes(end, c.slope)
		applyMarks(ws, c.marks)
		w := ws[len(ws)/2]
		if !(w.Period.SE >= c.least && w.Period.SE <= c.most) {
			t.Errorf("%s: a period is known to %.3g s, want %.3g to %.3g", c.name, w.Period.SE, c.least, c.most)
		}
		if math.Abs(w.BeatError.SE-c.uneven) > 0.02*c.uneven {
			t.Errorf("%s: a beat error is known to %.3g s, want %.3g", c.name, w.BeatError.SE, c.uneven)
		}
		if math.IsNaN(w.Lift.X) != math.IsNaN(c.lifted) || math.Abs(w.Lift.X-c.lifted) > 0.01*c.lifted {
			t.Errorf("%s: lift time %v, want %g s", c.name, w.Lift, c.lifted)
		}
	}
}

// TestMarksHoldFromTheirTimeOn expects each window to go by the reading of the
// sounds by which its beats were found.
func TestMarksHoldFromTheirTimeOn(t *testing.T) {
	ws := minutes(1200, 0)
	doubt := Mark{From: 600, Reading: contacts.Reading{Doubt: "it was not heard"}}
	applyMarks(ws, []Mark{told(600, contactstest.Steady(10e-3)), doubt})
	for i, w := range ws {
		if valid(w.Lift) != (i < 10) || i < 10 != (w.LeastDrift > 0 && w.LeastDrift <= w.LiftDrift) {
			t.Errorf("window %d has the lift %v", i, w.Lift)
		}
	}
}

func TestAmplitudes(t *testing.T) {
	lift := func(t float64) Value { return Value{10e-3 + 1e-6*t, 10e-6} }
	for _, c := range []struct {
		until float64 // the lift is known, s
		angle float64
		kind  AmplitudeKind
		want  float64 // in the window from 1500 s
	}{
		{3600, 52, Degrees, 26 / math.Sin(math.Pi*11.53e-3/0.4)},
		{3600, 0, LiftTime, 11.53e-3},
		{1800, 0, LiftTime, 11.53e-3},
		{1740, 52, Level, -30},
		{0, 0, Level, -30},
	} {
		ws := minutes(3600, 0)
		for i := range ws {
			ws[i].Lift = Value{math.NaN(), math.NaN()}
			if ws[i].Start < c.until {
				ws[i].Lift = lift(ws[i].middle())
			}
		}
		if kind, _ := amplitudes(ws, c.angle); kind != c.kind {
			t.Errorf("%s, want %s", kind, c.kind)
		}
		if got := ws[25].Amplitude; math.Abs(got.X-c.want) > 1e-9*math.Abs(c.want) || !(got.SE > 0) {
			t.Errorf("%s: %v, want %v", c.kind, got, c.want)
		}
	}
}

// TestShortLifts gives lift times too short for the lift angle in a share of
// the windows, as where the first contact is not heard.
func TestShortLifts(t *testing.T) {
	const length = 3600
	for _, c := range []struct {
		name    string
		until   float64 // the lift is too short, s
		angle   float64
		kind    AmplitudeKind
		windows int
	}{
		{"never", 0, 52, Degrees, 0},
		{"for some minutes", 600, 52, Degrees, 10},
		{"mostly", 2400, 52, LiftTime, 40},
		{"always", length, 52, LiftTime, 60},
		{"no lift angle", length, 0, LiftTime, 0},
		{"a smaller lift angle", length, 30, Degrees, 0},
	} {
		ws := minutes(length, 0)
		for i := range ws {
			ws[i].Lift = Value{12e-3, 5e-6}
			if ws[i].Start < c.until {
				ws[i].Lift.X = 6.2e-3 // half of 52° through the sine of π · 6.2 ms / 0.4 s: 534°
			}
		}
		kind, short := amplitudes(ws, c.angle)
		if kind != c.kind || short.Windows != c.windows || short.All != 60 {
			t.Errorf("%s: %s, %d of %d windows too short; want %s, %d", c.name, kind, short.Windows, short.All, c.kind, c.windows)
		}
		if c.windows > 0 && (math.Abs(short.Amplitude-534.2) > 1 || math.Abs(short.Time-6.2e-3) > 5e-6) {
			t.Errorf("%s: %v", c.name, short)
		}
		for i := range ws {
			if a := ws[i].Amplitude.X; kind == Degrees && math.IsNaN(a) != (i < c.windows) || a > contacts.Knocks(c.angle) {
				t.Errorf("%s: window %d has %v", c.name, i, ws[i].Amplitude)
			}
		}
	}
}

// TestOneSideAlone: what the beat error of a movement far out of beat does to the times of
// one side, as its lift grows, is within what is said.
func TestOneSideAlone(t *testing.T) {
	mark := told(600, contactstest.Growing(9e-3, 18e-3, 600))
	const period, beatError = 0.4, outOfBeat * 0.2
	moved := func(at float64) float64 { l, _ := mark.Reading.Lift.Lift(at); return beatError / 2 * l / 9e-3 }
	for at := 60.; at < 540; at += 60 {
		w := Window{begin: at, end: at + 60, Period: Value{X: period}, expected: [2]float64{math.NaN(), math.NaN()}}
		if got, want := oneSided(&w, &w, &mark.Reading.Lift), moved(at+60)-moved(at); math.Abs(want) > 2.1*got || math.Abs(want) < got/2 {
			t.Errorf("%.0f s: one side moves by %.0f µs, standard error %.0f µs", at, 1e6*want, 1e6*got)
		}
	}
}

// TestLiftContradicted has a beat error that grows faster than the lift that was told, with
// which it should go: rates and mean have the error of a lift that was followed badly from
// there on, and only from there on.
func TestLiftContradicted(t *testing.T) {
	mark := told(600, contactstest.Growing(9e-3, 12e-3, 600))
	const part, start = 0.3, 420
	lost := func(at float64) float64 { return 4e-3 * math.Max(0, (at-start)/180) } // of the lift
	for _, share := range []float64{0, 1} {
		tr := movement{seed: 3, interval: 0.2, beats: 2950, scatter: 20e-6}.run()
		lift := func(at float64) float64 { l, _ := mark.Reading.Lift.Lift(at); return l }
		for i := range tr.batch.Beats {
			b := &tr.batch.Beats[i]
			by := share * lost(b.Time)
			b.Time += (float64(b.Side)-0.5)*part*(lift(b.Time)+by) - by/2 // marked by a sound after mid-lift
		}
		a := NewAccumulator(60, nil)
		a.Expect(func(at float64) float64 { return part * lift(at) }, part, 0.2)
		ws := a.Flush(a.Append(nil, &tr.batch), tr.end)
		r := a.Finish(ws, Settings{BeatsPerHour: 18000, Marks: []Mark{mark}})
		for i, w := range ws[:len(ws)-1] {
			wide := w.Rate.SE > 0.3
			if wide != (share > 0 && w.End > start+20) || math.Abs(w.Rate.X) > 3*w.Rate.SE {
				t.Errorf("lost %g, window %d: %.3f ± %.3f s/day, want 0", share, i, w.Rate.X, w.Rate.SE)
			}
		}
		if math.Abs(r.Rate.X) > 3*r.Rate.SE || share == 0 && r.Rate.SE > 0.02 {
			t.Errorf("lost %g: mean %.3f ± %.3f s/day, want 0", share, r.Rate.X, r.Rate.SE)
		}
	}
}

// TestUntoldLiftGrows has a lift that was not told, and a beat error that grows by a part of
// itself: as the lift does, so that the period is known no better than that.
func TestUntoldLiftGrows(t *testing.T) {
	const grows = 3e-4 // of itself, a second
	for _, beatError := range []float64{-5e-3, 0} {
		ws := minutes(1200, 0)
		for i := range ws {
			ws[i].BeatError = Value{beatError * math.Exp(grows*ws[i].middle()), 2e-6}
		}
		applyMarks(ws, []Mark{{Reading: contacts.Reading{Doubt: "none"}}})
		for i, w := range ws {
			least := 0.9 * usualLift(w.Period.X) * anywhere * grows * w.Period.X
			if got := w.Period.SE; got < least != (beatError == 0) {
				t.Errorf("beat error %g s, window %d: period known to %.3g s, growing lift leaves %.3g", beatError, i, got, least)
			}
		}
	}
}

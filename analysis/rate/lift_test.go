package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
)

// TestDegrees checks the amplitude of lift angle 52°, 28 800 beats per hour and
// lift time 7.675 ms: 270° (common practice).
func TestDegrees(t *testing.T) {
	a := degrees(Value{7.675e-3, 20e-6}, 0.25, 52)
	if math.Abs(a.X-270) > 0.05 {
		t.Errorf("%v°, want 270°", a.X)
	}
	up, down := degrees(Value{7.655e-3, 0}, 0.25, 52), degrees(Value{7.695e-3, 0}, 0.25, 52)
	if want := (up.X - down.X) / 2; math.Abs(a.SE-want) > 1e-3*want {
		t.Errorf("standard error %v°, by difference %v°", a.SE, want)
	}
	for _, bad := range []float64{0, -1e-3, 0.2, math.NaN()} {
		if a := degrees(Value{bad, 0}, 0.25, 52); !math.IsNaN(a.X) {
			t.Errorf("a lift of %v s gives %v°", bad, a.X)
		}
	}
}

// lifts makes a measurement every 10 s of the course given.
func lifts(rng *rand.Rand, end, scatter float64, mid, duration func(t float64) float64) []beat.Lift {
	var out []beat.Lift
	for t := 5.; t < end; t += 10 {
		out = append(out, beat.Lift{
			Time: t, Duration: duration(t) + scatter*rng.NormFloat64(), SE: scatter,
			Mid: mid(t) + scatter*rng.NormFloat64(), MidSE: scatter,
		})
	}
	return out
}

func steadyLift(float64) float64 { return 10e-3 }

// TestReferToMidLift lets the mark creep against mid-lift and asks for the
// period of mid-lift, and for errors next to those without any correction.
func TestReferToMidLift(t *testing.T) {
	const end, sigma = 3600., 2e-6
	for _, c := range []struct {
		name string
		mid  func(t float64) float64
	}{
		{"at rest", func(float64) float64 { return 3e-3 }},
		{"creeping", func(t float64) float64 { return 3e-3 + 5e-6*t }},
		{"faster and faster", func(t float64) float64 { return 3e-3 + 6e-3*math.Pow(t/end, 4) }},
	} {
		const se = 0.2 * 1e-7 * 2 // of a period of 0.4 s: 60 s, 18 000 an hour, 30 µs
		var before, after, claimed []float64
		for seed := range uint64(30) {
			rng := rand.New(rand.NewPCG(seed, 21))
			var ws []Window
			for s := 0.; s < end; s += 60 {
				mean := (c.mid(s+60) - c.mid(s)) / 60
				noise := se * rng.NormFloat64()
				before = append(before, noise/se)
				ws = append(ws, Window{Start: s, End: s + 60, Beats: 300, Heard: 300, Period: Value{0.4*(1-mean) + noise, se}})
			}
			if !ReferToMidLift(ws, lifts(rng, end, sigma, c.mid, steadyLift)) {
				t.Fatal("not referred")
			}
			for _, w := range ws {
				after = append(after, (w.Period.X-0.4)/se)
				claimed = append(claimed, w.Period.SE/se)
			}
		}
		t.Logf("%s: error %.3f before, %.3f after, claimed %.3f", c.name, rms(before), rms(after), rms(claimed))
		if rms(after) > 1.03*rms(before) {
			t.Errorf("%s: error %.3f of the window's own, %.3f before", c.name, rms(after), rms(before))
		}
		if r := rms(claimed) / rms(after); r < 0.95 || r > 1.06 {
			t.Errorf("%s: claims %.3f of the error", c.name, r)
		}
	}
}

// TestReferPhase expects the phase of mid-lift from that of a creeping mark.
func TestReferPhase(t *testing.T) {
	mid := func(t float64) float64 { return 3e-3 + 5e-6*t }
	var ws []Window
	p := Phase{Interval: 10}
	for s := 0.; s < 3600; s += 10 {
		ws = append(ws, Window{Start: s, End: s + 10, Period: Value{0.4, 1e-8}})
		p.Time, p.X = append(p.Time, s+5), append(p.X, 1-mid(s+5))
	}
	p.Time[7], p.X[7] = math.NaN(), math.NaN()
	m, _ := newMidLift(ws, lifts(rand.New(rand.NewPCG(1, 5)), 3600, 2e-6, mid, steadyLift))
	m.referPhase(&p)
	for i, x := range p.X {
		if i != 7 && math.Abs(x-1) > 2e-6 {
			t.Fatalf("sample %d: %v s", i, x)
		}
	}
	if !math.IsNaN(p.X[7]) {
		t.Errorf("a missing sample became %v s", p.X[7])
	}
}

func TestReferToMidLiftNeedsEnough(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	mid := func(t float64) float64 { return 1e-5 * t }
	make60 := func() (ws []Window) {
		for s := 0.; s < 3600; s += 60 {
			ws = append(ws, Window{Start: s, End: s + 60, Period: Value{0.4, 1e-8}})
		}
		return ws
	}
	all := lifts(rng, 3600, 2e-6, mid, steadyLift)
	for _, c := range []struct {
		name  string
		lifts []beat.Lift
		want  bool
	}{
		{"all", all, true},
		{"none", nil, false},
		{"a few", all[:8], false},
		{"a quarter of the run", all[:90], false},
		{"no errors given", lifts(rng, 3600, 0, mid, steadyLift), false},
	} {
		ws := make60()
		got := ReferToMidLift(ws, c.lifts)
		if changed := ws[30].Period.X != 0.4; got != c.want || changed != c.want {
			t.Errorf("%s: %v, period changed %v", c.name, got, changed)
		}
	}
}

func TestAmplitudes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	duration := func(t float64) float64 { return 8e-3 + 1e-6*t }
	some := lifts(rng, 3600, 10e-6, steadyLift, duration)
	some[100].Duration = 30e-3 // a lorry
	for _, c := range []struct {
		lifts []beat.Lift
		angle float64
		kind  AmplitudeKind
		want  float64 // in the window from 1800 s
		near  float64
	}{
		{some, 52, Degrees, 26 / math.Sin(math.Pi*9.83e-3/0.4), 0.5},
		{some, 0, LiftTime, 9.83e-3, 20e-6},
		{some[:100], 52, Level, -30, 0},
		{nil, 0, Level, -30, 0},
	} {
		var ws []Window
		for s := 0.; s < 3600; s += 60 {
			ws = append(ws, Window{Start: s, End: s + 60, Period: Value{0.4, 1e-8}, Level: Value{-30, 0.1}})
		}
		if kind, _ := Amplitudes(ws, c.lifts, c.angle); kind != c.kind {
			t.Errorf("%s, want %s", kind, c.kind)
		}
		if got := ws[30].Amplitude; math.Abs(got.X-c.want) > c.near || !(got.SE > 0) {
			t.Errorf("%s: %v, want %v", c.kind, got, c.want)
		}
		if got := ws[16].Amplitude; c.kind == LiftTime && math.Abs(got.X-duration(990)) > 30e-6 {
			t.Errorf("one bad lift of six bends the mean to %v s", got.X)
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
		duration := func(t float64) float64 {
			if t < c.until {
				return 6.2e-3 // half of 52° through the sine of π · 6.2 ms / 0.4 s: 534°
			}
			return 12e-3
		}
		some := lifts(rand.New(rand.NewPCG(4, 1)), length, 5e-6, steadyLift, duration)
		var ws []Window
		for s := 0.; s < length; s += 60 {
			ws = append(ws, Window{Start: s, End: s + 60, Period: Value{0.4, 1e-8}, Level: Value{-30, 0.1}})
		}
		kind, short := Amplitudes(ws, some, c.angle)
		if kind != c.kind || short.Windows != c.windows || short.All != 60 {
			t.Errorf("%s: %s, %d of %d windows too short; want %s, %d", c.name, kind, short.Windows, short.All, c.kind, c.windows)
		}
		if c.windows > 0 && (math.Abs(short.Amplitude-534.2) > 1 || math.Abs(short.Time-6.2e-3) > 5e-6) {
			t.Errorf("%s: %v", c.name, short)
		}
		for i := range ws {
			if a := ws[i].Amplitude.X; kind == Degrees && math.IsNaN(a) != (i < c.windows) || a > widest {
				t.Errorf("%s: window %d has %v", c.name, i, ws[i].Amplitude)
			}
		}
	}
}

// A window that goes by one side, the other being faint, is referred by that
// side's mark: the two may move apart while their middle stays.
func TestReferToMidLiftByTheSideThatCounts(t *testing.T) {
	const apart = 4e-6 // by how much the marks move apart, s a second
	var lifts []beat.Lift
	for at := 5.; at < 1200; at += 10 {
		lifts = append(lifts, beat.Lift{Time: at, Duration: 10e-3, SE: 1e-6, Mid: 1e-3, MidSE: 1e-8, Uneven: 2e-3 + apart*at, UnevenSE: 1e-8})
	}
	for _, c := range []struct{ lean, want float64 }{{0, 0.4}, {-1, 0.4 * (1 - apart/2)}, {1, 0.4 * (1 + apart/2)}, {0.5, 0.4 * (1 + apart/4)}} {
		var ws []Window
		for s := 0.; s < 1200; s += 60 {
			ws = append(ws, Window{Start: s, End: s + 60, Beats: 300, Heard: 200, Period: Value{0.4, 1e-9}, Lean: c.lean})
		}
		if !ReferToMidLift(ws, lifts) {
			t.Fatal("not referred")
		}
		for _, w := range ws {
			if d := w.Period.X - c.want; math.Abs(d) > 1e-9 {
				t.Errorf("lean %g, window at %.0f s: the period is off by %g s", c.lean, w.Start, d)
				break
			}
		}
	}
}

// The slope goes by the ticks where the tocks scatter far more.
func TestLean(t *testing.T) {
	for _, c := range []struct{ tick, tock, least, most float64 }{{30e-6, 30e-6, -0.15, 0.15}, {30e-6, 3e-3, -1, -0.99}, {3e-3, 30e-6, 0.99, 1}} {
		rng := rand.New(rand.NewPCG(3, 4))
		var beats []beat.Beat
		for i := range int64(300) {
			s := beat.Side(i & 1)
			scatter := []float64{c.tick, c.tock}[s]
			beats = append(beats, beat.Beat{Index: i, Time: 0.2*float64(i) + scatter*rng.NormFloat64(), Side: s, Heard: true})
		}
		var f fitter
		if line, ok := f.fit(beats, make([]int, len(beats))); !ok || line.lean < c.least || line.lean > c.most {
			t.Errorf("scatter of %g and %g s: lean %g, want %g to %g", c.tick, c.tock, line.lean, c.least, c.most)
		}
	}
}

package fusee

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// isochronism is the rate, s/day, and the amplitude, degrees, that a torque in N·mm gives.
func isochronism(m float64) (perDay, degrees float64) {
	degrees = 300 * math.Sqrt(m/600)
	return 8 - 0.1*(280-degrees), degrees
}

// sampleRun is a run of 7 turns of 4 hours whose torque is that of spring, in windows of
// two minutes, that scatter as their errors say.
func sampleRun() *runs.Run {
	rng := rand.New(rand.NewPCG(3, 4))
	r := &runs.Run{Path: "night.rundown", Kind: rate.Degrees}
	r.Summary.Beat.Nominal = 18000
	for i := range 7 * 4 * 30 {
		perDay, degrees := isochronism(spring((float64(i) + 0.5) / 120))
		r.Windows = append(r.Windows, rate.Window{
			Start: 120 * float64(i), End: 120 * float64(i+1), Beats: 600, Heard: 600, Period: rate.Value{X: 0.4},
			Rate: rate.Value{X: perDay + 0.2*rng.NormFloat64(), SE: 0.2}, Amplitude: rate.Value{X: degrees + 0.5*rng.NormFloat64(), SE: 0.5},
		})
	}
	rate.Smooth(r.Windows)
	return r
}

func TestDriveCountsTurns(t *testing.T) {
	r := sampleRun()
	if _, err := NewDrive(r, 0); err == nil || !strings.HasPrefix(err.Error(), "night.rundown: it does not say") {
		t.Errorf("%v", err)
	}
	r.Summary.Barrel = &analysis.Barrel{Turn: 4 * 3600}
	for _, hours := range []float64{0, 4} {
		d, err := NewDrive(r, hours)
		if err != nil {
			t.Fatal(err)
		}
		if last := d.points[len(d.points)-1].turn; d.HoursPerTurn != 4 || math.Abs(last-(7-1./240)) > 1e-9 {
			t.Errorf("%v hours a turn, the last window at %v turns", d.HoursPerTurn, last)
		}
	}
	// While the movement stands still, the barrel does too.
	for i := 100; i < 200; i++ {
		r.Windows[i].Beats, r.Windows[i].Heard, r.Windows[i].Stopped = 0, 0, true
	}
	d, err := NewDrive(r, 4)
	if err != nil {
		t.Fatal(err)
	}
	if last := d.points[len(d.points)-1].turn; math.Abs(last-(7-1./240-100./120)) > 1e-9 {
		t.Errorf("after a stop, the last window at %v turns", last)
	}
	if !math.IsNaN(d.smoothed(8)) || math.IsNaN(d.smoothed(0)) {
		t.Error("a rate beyond the run, or none at its start")
	}
	r.Windows = r.Windows[:2]
	if _, err := NewDrive(r, 4); err == nil || !strings.Contains(err.Error(), "2 steady windows are too few") {
		t.Errorf("%v", err)
	}
}

// The amplitude stands in for the torque, by its exponent: here it is known to be 2.
func TestProxyHasTheShapeOfTheTorque(t *testing.T) {
	d, err := NewDrive(sampleRun(), 4)
	if err != nil {
		t.Fatal(err)
	}
	c, err := d.Proxy(2)
	if err != nil {
		t.Fatal(err)
	}
	for turn := 0.5; turn < 6.9; turn += 0.25 {
		got, want := c.At(turn)/c.At(2), spring(turn)/spring(2)
		if math.Abs(got/want-1) > 0.005 {
			t.Errorf("at %v turns: %.4f of that at 2, want %.4f", turn, got, want)
		}
	}
	// By the lift time, whose angle is not known: sin(π lift / period) is inverse.
	r := sampleRun()
	r.Kind = rate.LiftTime
	for i := range r.Windows {
		w := &r.Windows[i]
		lift := math.Asin(26/w.Amplitude.X) * w.Period.X / math.Pi
		w.Amplitude = rate.Value{X: lift, SE: lift * 0.5 / w.Amplitude.X}
	}
	d, err = NewDrive(r, 4)
	if err != nil {
		t.Fatal(err)
	}
	byLift, err := d.Proxy(2)
	if err != nil {
		t.Fatal(err)
	}
	for turn := 0.5; turn < 6.9; turn += 0.25 {
		if a, b := c.At(turn)/c.At(2), byLift.At(turn)/byLift.At(2); math.Abs(a/b-1) > 0.002 {
			t.Errorf("at %v turns: %.4f by degrees, %.4f by the lift", turn, a, b)
		}
	}
	r.Kind = rate.Level
	if d, err = NewDrive(r, 4); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Proxy(2); err == nil || !strings.Contains(err.Error(), "--torque") {
		t.Errorf("a level stands in for the torque: %v", err)
	}
}

// With the torque evened, the rate is what the movement has at that torque, over the whole
// wind, and what the torque does not explain is told.
func TestEvenCarriesTheRateThrough(t *testing.T) {
	torque := curveOf(7, 4, spring)
	f := design(t, torque, sampleOptions())
	mean := torque.Work(f.From, f.To) / (2 * math.Pi * f.BarrelTurns)
	want, degrees := isochronism(mean)
	d, err := NewDrive(sampleRun(), 4)
	if err != nil {
		t.Fatal(err)
	}
	e, ok := d.Even(torque, f, f.Trials(torque))
	if !ok {
		t.Fatal("the run does not cover the torque")
	}
	if math.Abs(e.Mean.X-want) > max(4*e.Mean.SE, 0.05) {
		t.Errorf("rate %+v, want %v", e.Mean, want)
	}
	if math.Abs(e.Amplitude.X-degrees) > 1 {
		t.Errorf("amplitude %+v, want %v", e.Amplitude, degrees)
	}
	low, _ := isochronism(spring(f.To))
	high, _ := isochronism(spring(f.From))
	if math.Abs(e.SpreadBefore-(high-low)) > 0.3 {
		t.Errorf("now it changes by %v, want %v", e.SpreadBefore, high-low)
	}
	if e.SpreadAfter.X > 0.1 {
		t.Errorf("with the fusee it changes by %+v", e.SpreadAfter)
	}
	stronger, _ := isochronism(1.05 * mean)
	if math.Abs(e.Stronger-(stronger-want)) > 0.05 {
		t.Errorf("a stronger spring moves the rate by %v, want %v", e.Stronger, stronger-want)
	}
}

// The error of the rate holds the truth: in 60 runs, all of it within 1.96 standard errors
// in nine tenths at the least, where the torque is known for sure.
func TestEvenKnowsItsError(t *testing.T) {
	torque := curveOf(7, 16, spring)
	f := design(t, torque, sampleOptions())
	want, _ := isochronism(torque.Work(f.From, f.To) / (2 * math.Pi * f.BarrelTurns))
	held, n := 0, 60
	for i := range n {
		r := sampleRun()
		rng := rand.New(rand.NewPCG(uint64(i), 9))
		for k := range r.Windows {
			perDay, _ := isochronism(spring((float64(k) + 0.5) / 120))
			r.Windows[k].Rate.X = perDay + 0.2*rng.NormFloat64()
		}
		d, err := NewDrive(r, 4)
		if err != nil {
			t.Fatal(err)
		}
		e, ok := d.Even(torque, f, f.Trials(torque))
		if !ok {
			t.Fatal("the run does not cover the torque")
		}
		if math.Abs(e.Mean.X-want) < 1.96*e.Mean.SE {
			held++
		}
	}
	t.Logf("held %d times in %d", held, n)
	if held < n*9/10 {
		t.Errorf("held %d times in %d", held, n)
	}
}

// A run that ends before the torque has come down to what the fusee gives tells nothing.
func TestEvenNeedsTheTorqueToBeCovered(t *testing.T) {
	r := sampleRun()
	r.Windows = r.Windows[:60] // half a turn
	d, err := NewDrive(r, 4)
	if err != nil {
		t.Fatal(err)
	}
	torque := curveOf(7, 4, spring)
	f := design(t, torque, sampleOptions())
	if e, ok := d.Even(torque, f, f.Trials(torque)); ok {
		t.Errorf("%+v", e)
	}
}

// The stretch of the rate is that of the least change, and the day's gain its mean rate.
func TestStopWorkByRate(t *testing.T) {
	d, err := NewDrive(sampleRun(), 4)
	if err != nil {
		t.Fatal(err)
	}
	torque := curveOf(7, 4, spring)
	list := StopWork(torque, d)
	for _, k := range list[:len(list)-1] {
		if k.ByRate == nil || k.Hours != 4*k.Turns {
			t.Fatalf("%+v", k)
		}
		// Rate follows torque here, so that both stretches are nearly the same.
		a, _ := isochronism(spring(k.ByRate.From))
		b, _ := isochronism(spring(k.ByRate.To))
		if math.Abs(k.ByRate.Spread-math.Abs(a-b)) > 0.4 {
			t.Errorf("%v turns: changes by %v, want %v", k.Turns, k.ByRate.Spread, a-b)
		}
		if !(k.Mean.SE > 0) || k.Day != k.Mean && k.Hours <= 24 {
			t.Errorf("%v turns: %+v in a day, mean %+v", k.Turns, k.Day, k.Mean)
		}
	}
	if i, ok := Recommend(list, true, 3); !ok || list[i].ByRate.Spread > 3 || list[i+1].ByRate.Spread <= 3 {
		t.Errorf("recommended %d, %v", i, ok)
	}
}

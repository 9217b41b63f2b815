package environment

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"rundown/analysis/rate"
)

var (
	trials = flag.Int("trials", 6, "runs to draw for each statistical trial")
	from   = flag.Uint64("from", 1, "seed of the first")
)

// day is a run of a movement through a day's changes of temperature.
type day struct {
	hours       float64
	coefficient float64 // of the rate, s/day/K
	oil         float64 // of the amplitude, °/K
	swing       float64 // of the temperature, K from coldest to warmest
	walk        float64 // of the rate in an hour, s/day
}

// windows are those of a run: an amplitude that falls as a spring's torque does, a
// rate that is flat in it above and falls below, wanders, and feels the
// temperature. They are four minutes wide.
func (d day) windows(rng *rand.Rand, temperature func(hours float64) float64) []rate.Window {
	const width, rateSE, amplitudeSE = 240, 0.15, 0.4
	walk, breath := 0.0, 0.0
	var ws []rate.Window
	for i := range int(d.hours * 3600 / width) {
		h := (float64(i) + 0.5) * width / 3600
		u := h / (1.02 * d.hours)
		walk += d.walk * math.Sqrt(width/3600.) * rng.NormFloat64()
		breath = 0.8*breath + 0.3*rng.NormFloat64()
		warm := temperature(h)
		a := 285 - 30*(1-math.Exp(-u/0.05)) - 25*u - 90*math.Pow(u, 10) + breath + d.oil*(warm-20)
		flat := 4 - 40*math.Log1p(math.Exp((235-a)/6))/40
		ws = append(ws, rate.Window{
			Start: float64(i) * width, End: float64(i+1) * width, Beats: 1200, Heard: 1200,
			Rate:      rate.Value{X: flat + d.coefficient*(warm-20) + walk + rateSE*rng.NormFloat64(), SE: rateSE},
			Amplitude: rate.Value{X: a + amplitudeSE*rng.NormFloat64(), SE: amplitudeSE},
		})
	}
	return ws
}

// room is the temperature of a room: a day's swing from a phase on, and weather.
func (d day) room(rng *rand.Rand) func(hours float64) float64 {
	phase := 2 * math.Pi * rng.Float64()
	weather := make([]float64, int(6*d.hours)+8)
	for i := range weather[1:] {
		weather[i+1] = 0.98*weather[i] + 0.05*rng.NormFloat64()
	}
	return func(h float64) float64 {
		k := int(6 * h)
		w := weather[k] + (6*h-float64(k))*(weather[k+1]-weather[k])
		return 20 + d.swing/2*math.Sin(2*math.Pi*h/24+phase) + w
	}
}

// log is what a logger wrote of figures, every ten minutes.
func logOf(hours float64, names []string, of ...func(float64) float64) *Log {
	l := &Log{Elapsed: true}
	for k := range of {
		l.Columns = append(l.Columns, Column{Name: names[k], Unit: "°C"})
	}
	for h := 0.0; h <= hours; h += 1. / 6 {
		l.Times = append(l.Times, first.Add(time.Duration(h*3600*1e9)))
		for k, f := range of {
			l.Columns[k].Values = append(l.Columns[k].Values, math.Round(10*f(h))/10)
		}
	}
	return l
}

// effect is that of a cause in a relation.
func effect(t testing.TB, r *Relation, cause string) Effect {
	t.Helper()
	if r != nil {
		for _, e := range r.Causes {
			if e.Cause == cause {
				return e
			}
		}
	}
	t.Fatalf("there is no %s in %+v", cause, r)
	return Effect{}
}

// A coefficient of 0.3 s/day/K under a daily swing of 4 K and a run-down is within
// its interval in 95 of 100 runs, and none is claimed where there is none.
func TestTemperatureCoefficient(t *testing.T) {
	for _, c := range []day{
		{30, 0.3, 0, 4, 0.05}, {30, 0, 0, 4, 0.05}, {30, 0.3, 0, 4, 0.3}, {30, 0, 0, 4, 0.3}, {14, 0.3, 0.4, 4, 0.05}, {14, 0, 0, 4, 0.05},
	} {
		t.Run(fmt.Sprintf("%g a kelvin in %g h, walk %g", c.coefficient, c.hours, c.walk), func(t *testing.T) {
			within, claimed, width := 0, 0, 0.0
			for i := range uint64(*trials) {
				rng := rand.New(rand.NewPCG(*from+i, 91))
				room := c.room(rng)
				r, err := Relate(c.windows(rng, room), rate.Degrees, logOf(c.hours, []string{"temperature"}, room), nil)
				if err != nil {
					t.Fatal(err)
				}
				e := effect(t, r.Rate, "temperature")
				if e.Low <= c.coefficient && c.coefficient <= e.High {
					within++
				}
				if e.Claimed {
					claimed++
				}
				width += (e.High - e.Low) / 2 / float64(*trials)
			}
			t.Logf("within its interval in %d of %d, claimed in %d; half-width %.3f s/day/K", within, *trials, claimed, width)
			n := float64(*trials)
			if float64(within) < 0.95*n-3*math.Sqrt(0.05*n) {
				t.Errorf("%d of %d intervals hold the coefficient", within, *trials)
			}
			if c.coefficient == 0 && float64(claimed) > 0.05*n+2*math.Sqrt(0.05*n) {
				t.Errorf("a coefficient is claimed in %d of %d runs that have none", claimed, *trials)
			}
		})
	}
}

// Causes that went together are named together, and neither is preferred.
func TestCausesTogether(t *testing.T) {
	d := day{30, 0.3, 0, 4, 0.05}
	rng := rand.New(rand.NewPCG(3, 92))
	room := d.room(rng)
	other := func(h float64) float64 { return 1000 + 3*room(h) }
	r, err := Relate(d.windows(rng, room), rate.Degrees, logOf(d.hours, []string{"temperature", "pressure"}, room, other), nil)
	if err != nil {
		t.Fatal(err)
	}
	a, b := effect(t, r.Rate, "temperature"), effect(t, r.Rate, "pressure")
	if !slices.Equal(a.Together, []string{"pressure"}) || !slices.Equal(b.Together, []string{"temperature"}) || !a.Claimed || !b.Claimed {
		t.Errorf("%+v, %+v", a, b)
	}
	if math.Abs(a.X/b.X-3) > 0.1 {
		t.Errorf("coefficients %v and %v", a.X, b.X)
	}
	if e := effect(t, r.Rate, "amplitude"); len(e.Together) > 0 || !e.Claimed {
		t.Errorf("%+v", e)
	}
}

// What the temperature does to the oil shows in the amplitude.
func TestAmplitudeCoefficient(t *testing.T) {
	d := day{30, 0, 5, 4, 0.05}
	rng := rand.New(rand.NewPCG(4, 93))
	room := d.room(rng)
	r, err := Relate(d.windows(rng, room), rate.Degrees, logOf(d.hours, []string{"temperature"}, room), nil)
	if err != nil {
		t.Fatal(err)
	}
	if e := effect(t, r.Amplitude, "temperature"); !e.Claimed || e.Low > 5 || e.High < 5 {
		t.Errorf("%+v", e)
	}
}

// A log is brought to the run by the clock on the wall, with zones or without.
func TestRelateByTheWall(t *testing.T) {
	d := day{30, 0.3, 0, 4, 0.05}
	rng := rand.New(rand.NewPCG(5, 94))
	room := d.room(rng)
	ws := d.windows(rng, room)
	log := logOf(d.hours, []string{"temperature"}, room)
	want, err := Relate(ws, rate.Degrees, log, nil)
	if err != nil {
		t.Fatal(err)
	}
	began := time.Date(2031, 5, 4, 21, 30, 0, 0, time.UTC)
	for i := range log.Times {
		log.Times[i] = log.Times[i].Add(began.Sub(first))
	}
	log.Elapsed = false
	for name, start := range map[string]*Start{
		"neither has a zone": {At: began},
		"the run has one":    {At: time.Date(2031, 5, 4, 21, 30, 0, 0, time.FixedZone("", 7200)), Zoned: true},
	} {
		got, err := Relate(ws, rate.Degrees, log, start)
		if err != nil || effect(t, got.Rate, "temperature").X != effect(t, want.Rate, "temperature").X {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
	if _, err := Relate(ws, rate.Degrees, log, nil); err == nil || !strings.Contains(err.Error(), "--started") {
		t.Errorf("without a start: %v", err)
	}
	if _, err := Relate(ws, rate.Degrees, log, &Start{At: began.AddDate(0, 0, 3)}); err == nil || !strings.Contains(err.Error(), "readings begin") {
		t.Errorf("another day: %v", err)
	}
}

// What does not change is said, and has no coefficient.
func TestRelateConstant(t *testing.T) {
	d := day{10, 0, 0, 0, 0.05}
	rng := rand.New(rand.NewPCG(6, 95))
	constant := func(float64) float64 { return 20 }
	r, err := Relate(d.windows(rng, constant), rate.Degrees, logOf(d.hours, []string{"temperature"}, constant), nil)
	if err != nil || len(r.Notes) != 1 || len(r.Rate.Causes) != 1 {
		t.Errorf("%+v, %v", r, err)
	}
}

package rate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/analysis/beat"
)

// trueSlope is the straight-line fit of the clean beats of a window, s.
func trueSlope(clean []float64) float64 {
	n := float64(len(clean))
	var xx, xy float64
	for i, t := range clean {
		x := float64(i) - (n-1)/2
		xx += x * x
		xy += x * t
	}
	return xy / xx
}

// spaced returns shifts of a few ms, n beats apart on average.
func spaced(beats, n int, seed uint64) []beat.Event {
	rng := rand.New(rand.NewPCG(seed, 77))
	var out []beat.Event
	for b := rng.IntN(n); b < beats; b += 1 + rng.IntN(2*n) {
		e := beat.Event{Kind: beat.Late, Beat: int64(b), Shift: 1e-3 + 10e-3*rng.Float64()}
		if rng.IntN(2) == 0 {
			e.Kind, e.Shift = beat.Early, -1e-3-2e-3*rng.Float64()
		}
		out = append(out, e)
	}
	return out
}

// scatteredSlope is what least squares would make of the noise of a window's
// beats had all been heard and none been bad, each side weighted as it merits:
// an error that no estimate betters on average, s per beat. first is the
// number of the first beat, even for a tick, and ratio that of the scatters.
func scatteredSlope(noise []float64, first int, ratio float64) float64 {
	var w, wx, wy, wxx, wxy float64
	for i, y := range noise {
		p, x := 1., float64(i)
		if (first+i)%2 == 1 && ratio > 0 {
			p = 1 / (ratio * ratio)
		}
		w, wx, wy, wxx, wxy = w+p, wx+p*x, wy+p*y, wxx+p*x*x, wxy+p*x*y
	}
	return (w*wxy - wx*wy) / (w*wxx - wx*wx)
}

// TestFloor compares scatteredSlope with the formula for the floor of any
// measurement: σ · √(12 / (N (N² − 1))), the Cramér-Rao bound.
func TestFloor(t *testing.T) {
	const n = 300
	rng := rand.New(rand.NewPCG(1, 3))
	var got []float64
	noise := make([]float64, n)
	for range 4000 {
		for i := range noise {
			noise[i] = rng.NormFloat64()
		}
		got = append(got, scatteredSlope(noise, 0, 1))
	}
	if want := math.Sqrt(12. / (n * (n*n - 1))); math.Abs(rms(got)/want-1) > 0.03 {
		t.Errorf("%v, want %v", rms(got), want)
	}
}

// TestWindowErrors compares the errors of windows with those at the floor, on
// the same beats, and counts how often the intervals hold the truth.
func TestWindowErrors(t *testing.T) {
	drift := func(perHour float64) func(float64) float64 {
		return func(t float64) float64 { return perHour * t / 3600 }
	}
	base := movement{interval: 0.2, beats: 9000, scatter: 30e-6, beatError: 4e-3}
	for _, c := range []struct {
		name  string
		with  func(*movement)
		width float64
		apart int     // beats between shifts
		most  float64 // RMS error over that at the floor
	}{
		{"plain", func(m *movement) {}, 60, 0, 1.03},
		{"1 % outliers", func(m *movement) { m.outliers, m.wild = 0.01, 3e-3 }, 60, 0, 1.03},
		{"2 % outliers", func(m *movement) { m.outliers, m.wild = 0.02, 3e-3 }, 60, 0, 1.03},
		{"2 % outliers, small", func(m *movement) { m.outliers, m.wild = 0.02, 3e-4 }, 60, 0, 1.03},
		{"20 % outliers", func(m *movement) { m.outliers, m.wild = 0.2, 3e-3 }, 60, 0, 1.25},
		{"20 % unheard", func(m *movement) { m.unheard = 0.2 }, 60, 0, 1.16},
		{"tocks five times worse", func(m *movement) { m.ratio = 5 }, 60, 0, 1.03},
		{"a shift every 200 beats", func(m *movement) {}, 60, 200, 2},
		{"a shift every 50, and all else", func(m *movement) { m.outliers, m.wild, m.unheard = 0.02, 3e-3, 0.1 }, 60, 50, 6},
		{"drift of 200 s/day in an hour", func(m *movement) { m.rate = drift(200) }, 60, 0, 1.03},
		{"10-minute windows, drift of 20", func(m *movement) { m.rate, m.beats = drift(20), 36000 }, 600, 0, 1.15},
		{"50 beats", func(m *movement) {}, 10, 0, 1.04},
		{"20 beats", func(m *movement) { m.beats = 3000 }, 4, 0, 1.05},
		{"12 beats", func(m *movement) { m.beats = 3000 }, 2.4, 0, 1.06},
		{"8 beats", func(m *movement) { m.beats = 3000 }, 1.6, 0, 1.1},
		{"a seconds pendulum", func(m *movement) { m.interval, m.beats, m.scatter = 1, 3600, 200e-6 }, 60, 0, 1.05},
	} {
		const runs = 8
		var off, least []float64
		n, inside, errorInside := 0., 0., 0.
		for seed := range uint64(runs) {
			m := base
			m.seed = seed
			c.with(&m)
			if c.apart > 0 {
				m.jumps = spaced(m.beats, c.apart, seed)
			}
			tr := m.run()
			ws, _ := tr.windows(c.width)
			next := 0
			for _, w := range ws[:len(ws)-1] {
				clean, noise := tr.clean[next:next+w.Beats], tr.noise[next:next+w.Beats]
				e, floor := w.Period.X-2*trueSlope(clean), 2*scatteredSlope(noise, next, m.ratio)
				next += w.Beats
				if w.Beats < 8 {
					continue
				}
				off, least = append(off, e), append(least, floor)
				n++
				if math.Abs(e) < 1.96*w.Period.SE {
					inside++
				}
				if math.Abs(w.BeatError.X-m.beatError) < 1.96*w.BeatError.SE {
					errorInside++
				}
			}
		}
		got := rms(off) / rms(least)
		t.Logf("%s: error %.3f of the floor; intervals hold the truth in %.3f (rate), %.3f (beat error) of %v",
			c.name, got, inside/n, errorInside/n, n)
		// The comparison itself is good to 1 % with so few windows.
		if !(got <= c.most+0.025) {
			t.Errorf("%s: error %.3f of the floor", c.name, got)
		}
		// Three standard errors of the share beyond 93 … 97 %.
		slack := 3 * math.Sqrt(0.05*0.95/n)
		for _, share := range []float64{inside / n, errorInside / n} {
			if share < 0.93-slack/2 || share > 0.97+slack/2 {
				t.Errorf("%s: intervals hold the truth in %.3f of %v", c.name, share, n)
			}
		}
	}
}

// TestWindowsTile checks that windows follow each other to the end, whatever
// the size of batches, and that every beat is told its residual once.
func TestWindowsTile(t *testing.T) {
	m := movement{
		seed: 3, interval: 0.2, beats: 3000, scatter: 30e-6, beatError: 4e-3, unheard: 0.05, level: -30,
		jumps: []beat.Event{
			{Kind: beat.Late, Beat: 700, Shift: 4e-3},
			{Kind: beat.Stop, Beat: 1555, Shift: 200},
			{Kind: beat.Stop, Beat: 2050, Shift: 5},
		},
	}
	tr := m.run()
	var want []Window
	for _, size := range []int{1, 7, 1000, 3000} {
		var told []beat.Beat
		var off []float64
		a := NewAccumulator(60, func(w *Window, beats []beat.Beat, residual []float64) {
			told = append(told, beats...)
			off = append(off, residual...)
			for _, b := range beats {
				if b.Time < w.Start || b.Time >= w.End {
					t.Errorf("beat at %v in the window from %v to %v", b.Time, w.Start, w.End)
				}
			}
		})
		var ws []Window
		for from := 0; from < len(tr.batch.Beats); from += size {
			b := beat.Batch{Beats: tr.batch.Beats[from:min(from+size, len(tr.batch.Beats))]}
			if from == 0 {
				b.Events = tr.batch.Events
			}
			ws = a.Append(ws, &b)
		}
		ws = a.Flush(ws, 850)
		if len(ws) != 15 || ws[0].Start != 0 || ws[14].End != 850 {
			t.Fatalf("%d windows", len(ws))
		}
		for i, w := range ws {
			if i > 0 && w.Start != ws[i-1].End {
				t.Errorf("window %d starts at %v, the one before ends at %v", i, w.Start, ws[i-1].End)
			}
			stands := i >= 5 && i <= 8 || i == 10
			if w.Stopped != stands {
				t.Errorf("window %d: stopped %v", i, w.Stopped)
			}
			if quiet := w.Beats == 0; quiet != math.IsNaN(w.Period.X) {
				t.Errorf("window %d: %d beats, period %v", i, w.Beats, w.Period)
			}
			if w.Beats > 0 && (math.Abs(w.Level.X+30) > 1 || w.Heard >= w.Beats) {
				t.Errorf("window %d: level %v, %d of %d heard", i, w.Level, w.Heard, w.Beats)
			}
		}
		if !slices.Equal(told, tr.batch.Beats) {
			t.Errorf("batches of %d: beats were changed or lost", size)
		}
		var heard []float64
		for i, b := range told {
			if b.Heard == math.IsNaN(off[i]) || math.Abs(off[i]) > 200e-6 {
				t.Fatalf("beat %d: heard %v, residual %v", b.Index, b.Heard, off[i])
			}
			if !math.IsNaN(off[i]) {
				heard = append(heard, off[i])
			}
		}
		if r := rms(heard); math.Abs(r-30e-6) > 2e-6 {
			t.Errorf("residuals of %v s", r)
		}
		if want == nil {
			want = ws
		}
		if !same(ws, want) {
			t.Errorf("batches of %d change the windows", size)
		}
	}
}

// same compares windows, NaN being the same as NaN: figures are printed with as
// many digits as tell them from all others.
func same(a, b []Window) bool { return fmt.Sprint(a) == fmt.Sprint(b) }

func TestFlush(t *testing.T) {
	for _, c := range []struct {
		name    string
		beats   []float64
		end     float64
		windows int
	}{
		{"nothing", nil, 0, 0},
		{"no beats", nil, 150, 3},
		{"to the very end", []float64{1}, 120, 2},
		{"rounding at the end", []float64{1}, 120 + 1e-12, 2},
		{"a beat past the end", []float64{1, 121}, 120, 3},
	} {
		var b beat.Batch
		for i, at := range c.beats {
			b.Beats = append(b.Beats, beat.Beat{Index: int64(i), Time: at, Heard: true})
		}
		a := NewAccumulator(60, nil)
		ws := a.Flush(a.Append(nil, &b), c.end)
		n := 0
		for _, w := range ws {
			n += w.Beats
			if !math.IsNaN(w.Period.X) || !math.IsNaN(w.BeatError.SE) {
				t.Errorf("%s: %+v", c.name, w)
			}
		}
		if len(ws) != c.windows || n != len(c.beats) {
			t.Errorf("%s: %d windows with %d beats", c.name, len(ws), n)
		}
	}
}

// TestLastWindow has a movement lose its rate ever faster before it stops, and hears ever
// fewer of its beats: the rate is that of all beats, and the last of them are not left
// out as bad.
func TestLastWindow(t *testing.T) {
	for seed := range uint64(20) {
		tr := movement{seed: seed, interval: 0.2, beats: 300, scatter: 30e-6, beatError: 4e-3, rate: func(t float64) float64 {
			return -200 * math.Pow(t/60, 2)
		}}.run()
		rng := rand.New(rand.NewPCG(seed, 5))
		for i := range tr.batch.Beats {
			if i >= 150 && i < 292 && rng.Float64() > 0.03 {
				tr.batch.Beats[i].Heard = false
			}
		}
		ws, _ := tr.windows(60.1)
		if w, want := ws[0], 2*trueSlope(tr.clean); math.Abs(w.Period.X-want) > 4*w.Period.SE || w.Period.SE > 4e-7 {
			t.Errorf("seed %d: period off by %v s, standard error %v s", seed, w.Period.X-want, w.Period.SE)
		}
	}
}

// TestAnotherSound marks another sound of the beat for a while: a third of a
// window's beats, together at its end, agree with each other and not with the
// rest.
func TestAnotherSound(t *testing.T) {
	for seed := range uint64(10) {
		tr := movement{seed: seed, interval: 0.2, beats: 300, scatter: 30e-6, beatError: 4e-3}.run()
		for i := 200; i < 300; i++ {
			tr.batch.Beats[i].Time += 7e-3
		}
		ws, _ := tr.windows(60.1)
		if w := ws[0]; math.Abs(w.Period.X-0.4) > 4*w.Period.SE || w.Period.SE > 2e-7 {
			t.Errorf("period off by %v s, standard error %v s", w.Period.X-0.4, w.Period.SE)
		}
	}
}

// TestAnyBeats throws beats and events of all sorts at the accumulator and
// asks only that windows tile, figures come with errors, and beats are kept.
func TestAnyBeats(t *testing.T) {
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 55))
		var b beat.Batch
		at, index := 0., int64(0)
		for range rng.IntN(600) {
			at += 0.2 * rng.Float64() * float64(1+rng.IntN(3))
			if rng.IntN(50) == 0 {
				at += 100 * rng.Float64()
			}
			b.Beats = append(b.Beats, beat.Beat{Index: index, Time: at, Side: beat.Side(rng.IntN(2)), Heard: rng.IntN(4) > 0, Level: -40})
			if rng.IntN(30) == 0 {
				kind := beat.Kinds[rng.IntN(len(beat.Kinds))]
				b.Events = append(b.Events, beat.Event{Kind: kind, Beat: index, Start: at, End: at + rng.Float64(), Shift: rng.NormFloat64()})
			}
			index += 1 + int64(rng.IntN(2))
		}
		n := 0
		a := NewAccumulator(10, func(_ *Window, beats []beat.Beat, residual []float64) {
			if n += len(beats); len(beats) != len(residual) {
				t.Fatalf("%d residuals of %d beats", len(residual), len(beats))
			}
		})
		ws := a.Flush(a.Append(nil, &b), at+1)
		r := a.Finish(ws, Settings{})
		if n != len(b.Beats) || r.Counted != int64(n) {
			t.Fatalf("%d beats of %d", n, len(b.Beats))
		}
		for i, w := range ws {
			if w.Start != 10*float64(i) || w.End <= w.Start || math.IsNaN(w.Period.X) != math.IsNaN(w.Period.SE) {
				t.Fatalf("%+v", w)
			}
		}
		StableBand(ws, 10)
		PredictWander(Stabilities(a.Phase(), r.Jitter))
	}
}

// TestOneSide hears ticks only: there is a period, and no beat error.
func TestOneSide(t *testing.T) {
	tr := movement{seed: 1, interval: 0.2, beats: 300, scatter: 30e-6, beatError: 4e-3}.run()
	for i := range tr.batch.Beats {
		tr.batch.Beats[i].Heard = i%2 == 0
	}
	ws, _ := tr.windows(60)
	if w := ws[0]; math.Abs(w.Period.X-0.4) > 4*w.Period.SE || !math.IsNaN(w.BeatError.X) {
		t.Errorf("%+v", w)
	}
}

// TestNoScatter fits beats without any scatter.
func TestNoScatter(t *testing.T) {
	tr := movement{interval: 0.2, beats: 300, beatError: 4e-3}.run()
	ws, _ := tr.windows(60)
	if w := ws[0]; math.Abs(w.Period.X-0.4) > 1e-11 || math.Abs(w.BeatError.X-4e-3) > 1e-10 || math.IsNaN(w.Period.SE) {
		t.Errorf("%+v", w)
	}
}

func TestPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"no width":           func() { NewAccumulator(0, nil) },
		"append after flush": func() { a := NewAccumulator(60, nil); a.Flush(nil, 1); a.Append(nil, &beat.Batch{}) },
		"flush after flush":  func() { a := NewAccumulator(60, nil); a.Flush(nil, 1); a.Flush(nil, 1) },
		"tolerance":          func() { StableBand(nil, -1) },
		"averaging factor":   func() { OverlappingAllan(nil, 1, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

// BenchmarkAccumulator takes eight hours of 18 000 beats.
func BenchmarkAccumulator(b *testing.B) {
	tr := movement{interval: 0.2, beats: 144000, scatter: 30e-6, beatError: 4e-3, outliers: 0.01, wild: 3e-3}.run()
	b.ReportAllocs()
	for b.Loop() {
		tr.windows(60)
	}
}

// The mean level has an error where one beat of a side was heard, and none where
// nothing tells how they scatter.
func TestLevelOfFewBeats(t *testing.T) {
	heard := func(side beat.Side, level float64) beat.Beat {
		return beat.Beat{Side: side, Heard: true, Level: level}
	}
	_, v := level([]beat.Beat{heard(beat.Tick, -20), heard(beat.Tick, -22), heard(beat.Tock, -25)})
	// The ticks' variance is 2, that of their mean 1, that of the mean of both (1 + 2)/4.
	if v.X != -23 || math.Abs(v.SE-math.Sqrt(0.75)) > 1e-9 {
		t.Errorf("level %v", v)
	}
	for _, few := range [][]beat.Beat{{heard(beat.Tock, -25)}, {heard(beat.Tick, -20), heard(beat.Tock, -25)}} {
		if _, v := level(few); !math.IsNaN(v.SE) {
			t.Errorf("level %v of %d beats", v, len(few))
		}
	}
}

package fault

import (
	"math"
	"testing"

	"rundown/analysis/beat"
)

// The fold shows the shape of the wave with its standard error, whatever the
// beat error, the drift and the slower waves.
func TestFold(t *testing.T) {
	for _, c := range []struct {
		period    float64
		positions int
		beats     int
	}{{30, 30, 18000}, {31, 31, 18000}, {187.5, 25, 18000}, {30, 10, 18000}} {
		s := hour(*firstSeed)
		fast, slow := sine(c.period, 100e-6, 1), sine(2250, 2e-3, 0)
		s.wave = func(n int) float64 { return fast(n) + slow(n) }
		f := s.collect().Fold(c.period, c.positions)
		if len(f.Positions) != c.positions || f.Period != c.period {
			t.Fatalf("%d positions of %g beats", len(f.Positions), f.Period)
		}
		beats, misses := 0, 0
		for i, p := range f.Positions {
			width := c.period / float64(c.positions)
			if p.Beat != float64(i)*width {
				t.Errorf("position %d begins at beat %g", i, p.Beat)
			}
			// Mean of the wave over the beats of the position.
			want, n := 0.0, 0.0
			for b := range int(2 * c.period) {
				if at := math.Mod(float64(b), c.period); at >= p.Beat && at < p.Beat+width {
					want += fast(b)
					n++
				}
			}
			// Half a millisecond of slow wave bends by a few microseconds in a turn.
			if math.Abs(p.Mean-want/n) > 3*p.SE+4e-6 {
				misses++
			}
			if !(p.SE > 0.5*30e-6/math.Sqrt(float64(p.Beats)) && p.SE < 2*60e-6/math.Sqrt(float64(p.Beats))) {
				t.Errorf("period %g, position %d: standard error %g of %d beats", c.period, i, p.SE, p.Beats)
			}
			beats += p.Beats
		}
		if misses > 1 {
			t.Errorf("period %g: %d of %d positions off", c.period, misses, c.positions)
		}
		if beats < c.beats*99/100-2*int(c.period) || beats > c.beats {
			t.Errorf("period %g: %d beats folded", c.period, beats)
		}
	}
}

// Events show where they happen, and a lost beat doesn't bend the rest.
func TestFoldCountsEvents(t *testing.T) {
	s, phase := badTooth(*firstSeed, 15, 20)
	s.random, s.blur = 0, 0
	f := s.collect().Fold(30, 0)
	_, events := s.play()
	for i, p := range f.Positions {
		want := 0
		if float64(i) == phase {
			want = len(events)
		}
		if p.Events != want || math.Abs(p.Lost-3e-3*float64(want)) > 1e-3 {
			t.Errorf("position %d: %d events, %g s lost", i, p.Events, p.Lost)
		}
		if math.Abs(p.Mean) > 20e-6 {
			t.Errorf("position %d: mean %g s", i, p.Mean)
		}
	}
}

func TestFoldOfMoreThanTheRun(t *testing.T) {
	f := gather(regular(100), nil, 10).Fold(5000, 0)
	if len(f.Positions) != maxPositions {
		t.Fatalf("%d positions", len(f.Positions))
	}
	for _, p := range f.Positions {
		if p.Beats != 0 || !math.IsNaN(p.Mean) || !math.IsNaN(p.SE) {
			t.Fatalf("%+v", p)
		}
	}
}

func TestMovingMean(t *testing.T) {
	s := series{chunks: [][]float32{{1, 2, float32(math.NaN()), 4, 5, 6, 7}}, n: 7}
	for _, c := range []struct {
		period float64
		want   []float64
	}{
		{3, []float64{1.5, 1.5, 3, 4.5, 5, 6, 6.5}},
		{4, []float64{1.5, (1 + 2 + 4*0.5) / 2.5, (0.5 + 2 + 4 + 2.5) / 3, (1 + 4 + 5 + 3) / 3., (4 + 5 + 6 + 3.5) / 3.5, (2 + 5 + 6 + 7) / 3.5, (2.5 + 6 + 7) / 2.5}},
	} {
		w := newMovingMean(&s, c.period)
		for i, want := range c.want {
			if got := w.advance(); math.Abs(got-want) > 1e-9 {
				t.Errorf("period %g, value %d: %g, want %g", c.period, i, got, want)
			}
		}
	}
}

// A wave of the escape wheel stands upright in the map, one of a wheel further up
// moves on from row to row.
func TestMap(t *testing.T) {
	s := hour(*firstSeed)
	s.beats, s.jitter, s.unheard, s.drift = 6000, 1e-9, 0, nil
	for _, period := range []int{30, 31} {
		s.wave = func(n int) float64 { return 50e-6 * math.Cos(2*math.Pi*float64(n-7)/float64(period)) }
		m := s.collect().Map(30, 1000)
		if m.Rows != 200 || m.TurnsPerRow != 1 || m.First != 0 || len(m.Values) != 6000 {
			t.Fatalf("map of %d rows, %d turns each, from beat %d", m.Rows, m.TurnsPerRow, m.First)
		}
		for row := 10; row < 15; row++ {
			top := 0
			for col := range 30 {
				if m.Values[row*30+col] > m.Values[row*30+top] {
					top = col
				}
			}
			if want := (7 + (period-30)*row) % period; top != want {
				t.Errorf("period %d, row %d: latest in column %d, want %d", period, row, top, want)
			}
		}
	}
}

func TestMapOfManyTurnsAndEvents(t *testing.T) {
	beats := regular(3010)
	shift(beats, 1004, 5e-3)
	shift(beats, 2000, 60)
	beats[17].Heard = false
	events := []beat.Event{
		{Kind: beat.Late, Beat: 1004, Shift: 5e-3},
		{Kind: beat.Stop, Beat: 1999, Shift: 60},
	}
	c := gather(beats, events, 100)
	m := c.Map(10, 100)
	if m.Rows != 76 || m.TurnsPerRow != 4 {
		t.Fatalf("%d rows of %d turns", m.Rows, m.TurnsPerRow)
	}
	for i, v := range m.Values {
		switch row, col := i/10, i%10; {
		case row == 75 && col > 9:
		case row == 1004/40 && col == 4:
			if math.Abs(float64(v)-5e-3) > 1e-9 {
				t.Errorf("late beat: %g s", v)
			}
		case math.Abs(float64(v)) > 1e-8:
			t.Errorf("row %d, column %d: %g s", row, col, v)
		}
	}
	if m := c.Map(10, 1000); !math.IsNaN(float64(m.Values[17])) || math.IsNaN(float64(m.Values[18])) {
		t.Error("a beat that was not heard has no NaN")
	}
}

func TestChartsPanicOnWrongArguments(t *testing.T) {
	c := gather(regular(100), nil, 10)
	for name, f := range map[string]func(){
		"period 2":           func() { c.Fold(2, 0) },
		"period NaN":         func() { c.Fold(math.NaN(), 0) },
		"negative positions": func() { c.Fold(30, -1) },
		"two columns":        func() { c.Map(2, 10) },
		"no rows":            func() { c.Map(30, 0) },
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

func BenchmarkFold(b *testing.B) {
	s := hour(1)
	s.beats = 144_000
	c := s.collect()
	c.finish()
	for b.Loop() {
		c.Fold(300, 0)
	}
}

func BenchmarkMap(b *testing.B) {
	s := hour(1)
	s.beats = 144_000
	c := s.collect()
	c.finish()
	for b.Loop() {
		c.Map(30, 1000)
	}
}

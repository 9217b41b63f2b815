package sequence

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"rundown/analysis/beat"
)

// even is a movement of 18 000 an hour without a fault.
func even(seed uint64, beats int) movement {
	return movement{seed: seed, interval: 0.2, beats: beats, scatter: 30e-6, walk: 0.015, teeth: 15, rate: 12}
}

// TestFaults holds each kind of fault and each pair of kinds close together
// against the truth.
func TestFaults(t *testing.T) {
	const ms = 1e-3
	type at = map[int]float64
	for _, c := range []struct {
		name   string
		steps  at
		alone  at
		silent []int
		within int64 // beats that a step may be off
		beats  int   // 1 500 if 0
	}{
		{name: "none"},
		{name: "late", steps: at{700: 2 * ms}},
		{name: "early", steps: at{700: -2 * ms}},
		{name: "late by six times the scatter", steps: at{700: 0.18 * ms}, within: 1},
		{name: "late by a minute", steps: at{700: 60}},
		{name: "alone", alone: at{700: 2 * ms}},
		{name: "not heard", silent: []int{700, 701, 702}},
		{name: "late, late", steps: at{700: 2 * ms, 703: 1 * ms}},
		{name: "late, late the same", steps: at{700: 2 * ms, 703: 2 * ms}},
		{name: "late, early", steps: at{700: 2 * ms, 704: -1 * ms}},
		{name: "early, late", steps: at{700: -2 * ms, 703: 3 * ms}},
		{name: "late, early as much", steps: at{700: 2 * ms, 706: -2 * ms}},
		{name: "early, early", steps: at{700: -1 * ms, 703: -4 * ms}},
		{name: "late, alone", steps: at{700: 2 * ms}, alone: at{702: 3 * ms}},
		{name: "alone, late", steps: at{700: 2 * ms}, alone: at{698: 3 * ms}},
		{name: "alone just before late", steps: at{700: 2 * ms}, alone: at{699: 5 * ms}, within: 1},
		{name: "alone where late", steps: at{700: 2 * ms}, alone: at{700: 3 * ms}, within: 1},
		{name: "early, alone", steps: at{700: -2 * ms}, alone: at{702: 3 * ms}},
		{name: "alone, early", steps: at{700: -2 * ms}, alone: at{698: 1 * ms}},
		{name: "late, not heard", steps: at{700: 2 * ms}, silent: []int{701, 702}},
		{name: "not heard, late", steps: at{700: 2 * ms}, silent: []int{698, 699}},
		{name: "late while not heard", steps: at{700: 2 * ms}, silent: []int{698, 699, 700, 701}, within: 2},
		{name: "late twice while not heard", steps: at{700: 2 * ms}, silent: []int{700, 701, 702, 703, 704, 705, 706, 707, 708}, within: 9},
		{name: "early, not heard", steps: at{700: -2 * ms}, silent: []int{701, 702}},
		{name: "not heard, early", steps: at{700: -2 * ms}, silent: []int{698, 699}},
		{name: "alone, alone", alone: at{700: 2 * ms, 703: -1 * ms}},
		{name: "alone, alone as much", alone: at{700: 2 * ms, 702: 2 * ms}},
		{name: "alone, alone next to it", alone: at{700: 2 * ms, 701: 2.5 * ms}},
		{name: "alone, not heard", alone: at{700: 2 * ms}, silent: []int{701, 702}},
		{name: "not heard, alone", alone: at{703: 2 * ms}, silent: []int{701, 702}},
		{name: "not heard, not heard", silent: []int{700, 701, 704, 705}},
		{name: "late, alone, not heard", steps: at{700: 2 * ms}, alone: at{703: -1 * ms}, silent: []int{701, 702}},
		{name: "late near the beginning", steps: at{6: 2 * ms}},
		{name: "early near the end", steps: at{1494: -2 * ms}},
		{name: "alone at the beginning", alone: at{0: 2 * ms}},
		{name: "alone at the end", alone: at{1499: 2 * ms}},
		{name: "late where stretches meet", steps: at{core: 2 * ms}, beats: 2*core + 100},
		{name: "late around where stretches meet", steps: at{core - 8: 2 * ms, core + 4: 1 * ms}, beats: 2*core + 100},
	} {
		for seed := range uint64(5) {
			m := even(seed, 1500)
			m.steps, m.alone, m.silent = c.steps, c.alone, map[int]bool{}
			if c.beats > 0 {
				m.beats = c.beats
			}
			for _, i := range c.silent {
				m.silent[i] = true
			}
			tr := m.run()
			s := Tell(tr.beats)
			if len(s.Steps) != len(tr.steps) {
				t.Errorf("%s, seed %d: %d steps, want %d: %+v", c.name, seed, len(s.Steps), len(tr.steps), s.Steps)
				continue
			}
			for i, got := range s.Steps {
				want := tr.steps[i]
				if off := got.Beat - want.Beat; off < -c.within || off > c.within {
					t.Errorf("%s, seed %d: step at %d, want %d", c.name, seed, got.Beat, want.Beat)
				}
				if math.Abs(got.Shift-want.Shift) > 4*got.SE || got.SE > m.scatter {
					t.Errorf("%s, seed %d: %g ± %g s, want %g", c.name, seed, got.Shift, got.SE, want.Shift)
				}
			}
			for i := range c.alone {
				found := false
				for _, o := range s.Outliers {
					found = found || o == int64(i)
				}
				if !found && c.within == 0 {
					t.Errorf("%s, seed %d: beat %d is not displaced alone", c.name, seed, i)
				}
			}
		}
	}
}

// TestComesAndGoes: what comes and goes within a turn of a wheel loses no time.
func TestComesAndGoes(t *testing.T) {
	half := func(phase float64) float64 {
		if phase < 0.5 {
			return 1e-3
		}
		return 0
	}
	for _, c := range []struct {
		name string
		make func(m *movement)
		want float64 // scatter, as multiple of the truth, at most
	}{
		{"half of the wheel displaced", func(m *movement) { m.shape = half }, 1.1},
		{"three quarters in stairs", func(m *movement) { m.shape = func(phase float64) float64 { return 1e-3 * math.Floor(4*phase) } }, 1.1},
		{"a tooth too long", func(m *movement) {
			m.shape = func(phase float64) float64 {
				if phase > 0.4 && phase < 0.45 {
					return 2e-3
				}
				return 0
			}
		}, 1.1},
		{"wheel out of round", func(m *movement) { m.modulation = []modulation{{30, 400e-6, 1}} }, 1.1},
		{"another arbor out of round", func(m *movement) { m.modulation = []modulation{{225, 400e-6, 1}} }, 1.1},
		{"slow arbor out of round", func(m *movement) { m.modulation = []modulation{{1800, 900e-6, 1}} }, 1.1},
		{"period that is no number of beats", func(m *movement) { m.modulation = []modulation{{43.2, 300e-6, 1}} }, 2.2},
		{"uneven teeth", func(m *movement) { m.uneven = 80e-6 }, 1.1},
	} {
		for seed := range uint64(2) {
			for _, scatter := range []float64{10e-6, 100e-6} {
				m := even(seed, 9000)
				m.scatter = scatter
				c.make(&m)
				s := Tell(m.run().beats)
				if len(s.Steps) > 0 {
					t.Errorf("%s, scatter %g, seed %d: %d steps, the first %+v", c.name, scatter, seed, len(s.Steps), s.Steps[0])
				}
				for _, got := range s.Scatter {
					if got > c.want*scatter || got < 0.9*scatter {
						t.Errorf("%s, scatter %g, seed %d: scatter %g", c.name, scatter, seed, got)
					}
				}
			}
		}
	}
}

// TestEveryTurn: a tooth that costs time at every turn loses it for good.
func TestEveryTurn(t *testing.T) {
	for _, c := range []struct {
		name        string
		share, size float64
		teeth       int
		uneven      float64
	}{
		{"always", 1, 4e-3, 15, 0},
		{"always, little", 1, 0.4e-3, 12, 0},
		{"often", 0.6, 0.4e-3, 12, 0},
		{"seldom", 0.15, 0.4e-3, 15, 0},
		{"always, uneven wheel", 1, 1e-3, 15, 50e-6},
		{"often, uneven wheel", 0.7, 1e-3, 15, 50e-6},
		{"always, early", 1, -1e-3, 15, 0},
	} {
		for seed := range uint64(3) {
			m := even(seed, 9000)
			m.teeth, m.uneven = c.teeth, c.uneven
			m.hesitate = &hesitation{phase: 7, share: c.share, size: c.size}
			tr := m.run()
			s := Tell(tr.beats)
			pairs, missed, false_ := match(tr, s)
			if len(missed) > 1 || len(false_) > 0 {
				t.Errorf("%s, seed %d: %d found, %d missed, %d false", c.name, seed, len(pairs), len(missed), len(false_))
			}
			want := float64(len(tr.steps)) * c.size
			if got := s.Lost(); math.Abs(got/want-1) > 0.02+0.12*c.uneven/50e-6 {
				t.Errorf("%s, seed %d: lost %g s, want %g", c.name, seed, got, want)
			}
			for _, got := range s.Scatter {
				if math.Abs(got/m.scatter-1) > 0.1 {
					t.Errorf("%s, seed %d: scatter %g, want %g", c.name, seed, got, m.scatter)
				}
			}
		}
	}
}

// TestRunDown: rate and beat error that change fast are no steps.
func TestRunDown(t *testing.T) {
	for _, interval := range []float64{0.125, 0.2, 0.5, 1} {
		for _, scatter := range []float64{10e-6, 100e-6} {
			for seed := range uint64(3) {
				m := even(seed, int(1800/interval))
				m.interval, m.scatter = interval, scatter
				last := func(t, end float64) float64 { return math.Max(0, (t-end)/60+2) } // minutes of the last two
				m.course = func(t, end float64) float64 { x := last(t, end); return -25 * x * x }
				m.beatError = func(t, end float64) float64 { return 1e-3 + 0.2e-3*last(t, end) }
				s := Tell(m.run().beats)
				for _, p := range s.Steps {
					t.Errorf("interval %g, scatter %g, seed %d: %+v", interval, scatter, seed, p)
				}
			}
		}
	}
}

// TestFading: a scatter that grows as the sound fades makes no steps.
func TestFading(t *testing.T) {
	for seed := range uint64(4) {
		m := even(seed, 12000)
		m.scatter = 15e-6
		m.louder = func(t, end float64) float64 { return 1 + 5*math.Pow(t/end, 8) }
		if s := Tell(m.run().beats); len(s.Steps) > 0 || len(s.Outliers) > 40 {
			t.Errorf("seed %d: %d steps, %d beats alone", seed, len(s.Steps), len(s.Outliers))
		}
	}
}

// TestOwnErrors: where the sound leaves more to the times, it takes more to make a
// step, and its error is larger.
func TestOwnErrors(t *testing.T) {
	for seed := range uint64(4) {
		m := even(seed, 9000)
		m.scatter = 10e-6
		m.steps = map[int]float64{1500: 0.2e-3, 7000: 2e-3}
		tr := m.run()
		r := rand.New(rand.NewPCG(seed, 7))
		for i := range tr.beats {
			b := &tr.beats[i]
			b.SE = 5e-6
			if i%3000 < 300 || i > 6000 && i%7 == 0 {
				b.SE = 300e-6
			}
			b.Time += b.SE * r.NormFloat64()
		}
		s := Tell(tr.beats)
		pairs, missed, invented := match(tr, s)
		if len(missed) > 0 || len(invented) > 0 {
			t.Errorf("seed %d: %d missed, invented %+v", seed, len(missed), invented)
		}
		for _, p := range pairs {
			if math.Abs(p[1].Shift-p[0].Shift) > 4*p[1].SE || p[1].SE > 4e-6 {
				t.Errorf("seed %d: %+v, want %g", seed, p[1], p[0].Shift)
			}
		}
	}
}

// TestRinging has hesitations whose first two beats are marked a period of their ringing
// nearer to where they were due: one step each of a faint sound that rings, two of a clear
// one, of which no noise makes that.
func TestRinging(t *testing.T) {
	const ms, marked = 1e-3, 0.38e-3
	for _, c := range []struct {
		se   float64 // s
		want int
	}{{10e-6, 3}, {1e-6, 6}} {
		m := even(5, 1500)
		m.scatter = 40e-6
		m.steps = map[int]float64{500: 1 * ms, 800: 1 * ms, 1100: 1 * ms}
		tr := m.run()
		for i := range tr.beats {
			b := &tr.beats[i]
			b.SE = c.se
			for _, at := range []int64{500, 800, 1100} {
				if b.Index == at || b.Index == at+1 {
					b.Time -= marked
				}
			}
		}
		s := Tell(tr.beats)
		if len(s.Steps) != c.want {
			t.Errorf("errors of %g s: %d steps, want %d: %+v", c.se, len(s.Steps), c.want, s.Steps)
		}
	}
}

// TestWalk: an oscillator whose phase walks at random does not hesitate.
func TestWalk(t *testing.T) {
	for _, walk := range []float64{0.01, 0.03, 0.1, 0.3} {
		for seed := range uint64(3) {
			m := even(seed, 9000)
			tr := m.run()
			r, x := rand.New(rand.NewPCG(seed, 8)), 0.
			for i := range tr.beats {
				x += walk * m.scatter * r.NormFloat64()
				tr.beats[i].Time += x
			}
			if s := Tell(tr.beats); len(s.Steps) > 0 {
				t.Errorf("walk %g, seed %d: %+v", walk, seed, s.Steps)
			}
		}
	}
}

// TestOneSide: a side that fades for a while is missed, and comes back without a
// step.
func TestOneSide(t *testing.T) {
	m := even(1, 9000)
	m.beatError = func(t, end float64) float64 { return 3e-3 * (1 + t/end) }
	m.silent = map[int]bool{}
	for i := 3001; i < 5000; i += 2 {
		m.silent[i] = true
	}
	if s := Tell(m.run().beats); len(s.Steps) > 0 || len(s.Outliers) > 4 {
		t.Errorf("%d steps, %d beats alone", len(s.Steps), len(s.Outliers))
	}
}

// TestFresh: no step spans a standstill.
func TestFresh(t *testing.T) {
	m := even(1, 3000)
	m.stop = 1400
	m.steps = map[int]float64{700: 1e-3, 2100: -1e-3}
	s := Tell(m.run().beats)
	if len(s.Steps) != 2 || s.Steps[0].Beat != 700 || s.Steps[1].Beat != 2100 {
		t.Errorf("%+v", s.Steps)
	}
	free := s.Free()
	for _, c := range []struct {
		beat int64
		want float64
	}{{0, 0}, {699, 0}, {700, 1e-3}, {2099, 1e-3}, {2100, 0}, {2999, 0}} {
		if got := free(c.beat); math.Abs(got-c.want) > 3e-5 {
			t.Errorf("beat %d comes late by %g, want %g", c.beat, got, c.want)
		}
	}
}

// TestCuts: the story does not depend on where the stretches are cut.
func TestCuts(t *testing.T) {
	m := even(3, 4*core)
	m.hesitate = &hesitation{phase: 7, share: 0.5, size: 0.4e-3}
	m.outliers, m.wild = 0.01, 2e-3
	tr := m.run()
	whole := Tell(tr.beats)
	const cut = 3000
	part := Tell(tr.beats[cut:])
	var rest []Step
	for _, p := range whole.Steps {
		if p.Beat > cut+quiet {
			rest = append(rest, p)
		}
	}
	for len(part.Steps) > 0 && part.Steps[0].Beat <= cut+quiet {
		part.Steps = part.Steps[1:]
	}
	if len(rest) != len(part.Steps) {
		t.Fatalf("%d steps, %d when cut elsewhere", len(rest), len(part.Steps))
	}
	for i, p := range part.Steps {
		if off := p.Beat - rest[i].Beat; off < -1 || off > 1 || math.Abs(p.Shift-rest[i].Shift) > p.SE {
			t.Errorf("%+v, %+v when cut elsewhere", rest[i], p)
		}
	}
}

// TestPieces: the story is the same whatever pieces the beats come in, and what
// has been told stays.
func TestPieces(t *testing.T) {
	m := even(5, 4*core)
	m.hesitate = &hesitation{phase: 7, share: 0.5, size: 0.4e-3}
	m.outliers, m.wild, m.stop = 0.01, 2e-3, 3*core+500
	beats := m.run().beats
	want := Tell(beats)
	for _, size := range []int{1, 997, 3 * core} {
		teller := NewTeller()
		told, last := 0, int64(math.MinInt64)
		for piece := range slices.Chunk(beats, size) {
			teller.Append(piece)
			s, before := teller.Story()
			if before < last || len(s.Steps) < told || told > 0 && s.Steps[told-1] != want.Steps[told-1] {
				t.Fatalf("pieces of %d: what was told before %d has changed at %d", size, last, before)
			}
			for _, p := range s.Steps[told:] {
				if p.Beat >= before {
					t.Fatalf("pieces of %d: a step at %d, told before %d", size, p.Beat, before)
				}
			}
			told, last = len(s.Steps), before
		}
		if got := teller.Flush(); !reflect.DeepEqual(got, want) {
			t.Errorf("pieces of %d: another story", size)
		}
	}
}

func FuzzTell(f *testing.F) {
	f.Add([]byte{1, 2, 3}, 0.2)
	f.Add([]byte{}, 0.2)
	f.Add([]byte{0xff, 0xfe, 0, 1, 2, 3, 0x80, 0x80, 7, 7, 7, 7, 7, 7, 7, 7, 7}, math.NaN())
	f.Fuzz(func(t *testing.T, data []byte, interval float64) {
		var beats []Beat
		at, index := 0., int64(0)
		for i, c := range data {
			b := Beat{Index: index, Time: at, Heard: c&1 == 0, Side: beat.Side(c >> 1 & 1), Fresh: c == 0xfe, SE: float64(c>>4) * 1e-5}
			if c == 0xff {
				b.Time = math.NaN()
			}
			beats = append(beats, b)
			at += interval * float64(c>>2&3)
			index += int64(c >> 5)
			if i%7 == 0 {
				index++
			}
		}
		Tell(beats)
	})
}

// TestOdd: whatever comes in, an answer comes out.
func TestOdd(t *testing.T) {
	regular := func(n int) []Beat { return even(1, n).run().beats }
	change := func(n int, f func(i int, b *Beat)) []Beat {
		beats := regular(n)
		for i := range beats {
			f(i, &beats[i])
		}
		return beats
	}
	for name, beats := range map[string][]Beat{
		"nothing":         nil,
		"one":             regular(1),
		"two":             regular(2),
		"three":           regular(3),
		"twelve":          regular(12),
		"never heard":     change(500, func(_ int, b *Beat) { b.Heard = false }),
		"not a number":    change(500, func(_ int, b *Beat) { b.Time = math.NaN() }),
		"infinite":        change(500, func(i int, b *Beat) { b.Time = math.Inf(i%2*2 - 1) }),
		"some infinite":   change(500, func(i int, b *Beat) { b.Time /= float64(i % 3) }),
		"all at once":     change(500, func(_ int, b *Beat) { b.Time = 1 }),
		"perfect":         change(500, func(i int, b *Beat) { b.Time = float64(i) }),
		"same number":     change(500, func(_ int, b *Beat) { b.Index = 4 }),
		"backwards":       change(500, func(i int, b *Beat) { b.Index = int64(-i) }),
		"far apart":       change(500, func(i int, b *Beat) { b.Index = int64(i) * 1e15 }),
		"one side":        change(500, func(_ int, b *Beat) { b.Side = beat.Tick }),
		"no such side":    change(500, func(_ int, b *Beat) { b.Side = 77 }),
		"always fresh":    change(500, func(_ int, b *Beat) { b.Fresh = true }),
		"huge":            change(500, func(i int, b *Beat) { b.Time = math.Pow(-1e300, float64(i%2)) }),
		"chaos":           change(2000, func(i int, b *Beat) { b.Time = math.Sin(float64(i * i)) }),
		"errors infinite": change(500, func(_ int, b *Beat) { b.SE = math.Inf(1) }),
		"errors absurd":   change(500, func(i int, b *Beat) { b.SE = 1e9 * float64(i%2*2-1) }),
		"a long silence":  change(500, func(i int, b *Beat) { b.Index += int64(i/250) * 1e9 }),
	} {
		s := Tell(beats)
		for i, p := range s.Steps {
			if math.IsNaN(p.Shift) || !(p.SE > 0) || i > 0 && p.Beat <= s.Steps[i-1].Beat {
				t.Errorf("%s: %+v", name, p)
			}
		}
	}
}

// TestSmallHesitationsThatComeRound has an escape wheel of 12 teeth at one of which the
// movement hesitates by some four times the scatter in most turns: each is seen only once
// the others are, and a saw in the wheel would tell of the same beats. In one in ten of
// such movements it does, which is the limit.
func TestSmallHesitationsThatComeRound(t *testing.T) {
	all, found, whole := 0, 0, 0
	for seed := range uint64(12) {
		m := movement{seed: seed, interval: 1. / 6, beats: 5400, scatter: 122e-6, walk: 0.015, teeth: 12, hesitate: &hesitation{phase: 1, share: 0.72, size: 0.524e-3}}
		tr := m.run()
		pairs, missed, _ := match(tr, Tell(tr.beats))
		all, found = all+len(tr.steps), found+len(pairs)
		if len(missed) <= 3 {
			whole++
		}
	}
	t.Logf("%d of %d found, all but three in %d of 12", found, all, whole)
	if float64(found) < 0.85*float64(all) || whole < 10 {
		t.Errorf("%d of %d found, all but three in %d of 12", found, all, whole)
	}
}

// TestHesitatesInNearlyAllTurns: the few turns in which a tooth costs no time are told as that, and
// not as turns in which it gains some. Of 60 seeds, 0.94 of the hesitations were found, and 14 steps
// in all told early; these six are so many that a story told the wrong way round fails.
func TestHesitatesInNearlyAllTurns(t *testing.T) {
	all, found, early := 0, 0, 0
	for seed := range uint64(6) {
		m := movement{
			seed: seed, interval: 1. / 6, beats: 6000, scatter: 107e-6, walk: 0.05, teeth: 12, uneven: 19e-6,
			hesitate: &hesitation{phase: 19, share: 0.97, size: 0.43e-3},
			course:   func(t, end float64) float64 { return 12 * math.Exp(-t/40) }, // just wound
		}
		tr := m.run()
		story := Tell(tr.beats)
		pairs, _, _ := match(tr, story)
		all, found = all+len(tr.steps), found+len(pairs)
		for _, s := range story.Steps {
			if s.Shift < 0 {
				early++
			}
		}
	}
	t.Logf("%d of %d found, %d told early", found, all, early)
	if float64(found) < 0.95*float64(all) || early > 2 {
		t.Errorf("%d of %d found, %d told early", found, all, early)
	}
}

// TestChaosIsBounded: beats that step at random, every few of them and by hardly any
// scatter, are no movement, and not gone through for ever in search of one. Of ten seeds,
// these take the most.
func TestChaosIsBounded(t *testing.T) {
	for _, seed := range []uint64{3, 6} {
		rng := rand.New(rand.NewPCG(seed, 3))
		var beats []Beat
		at := 0.
		for i := range int64(416) {
			if at += 0.1; rng.Float64() < 0.15 {
				at += 2e-3 * rng.NormFloat64()
			}
			beats = append(beats, Beat{Index: i, Time: at + 1e-9*rng.NormFloat64(), Side: beat.Side(i % 2), Heard: true})
		}
		l := newLine(beats)
		l.tell()
		if each := l.tried / len(beats); each > mostTried+100 {
			t.Errorf("seed %d: each beat was gone through %d times", seed, each)
		}
	}
}

package onset

import (
	"math"
	"math/rand/v2"
	"testing"
)

const testRate = 48000.0

// ring adds a contact to x: damped oscillations that set in at a frame, which
// may be fractional.
func ring(x []float64, at, gain float64, hz ...float64) {
	for i := int(math.Ceil(at)); i < len(x); i++ {
		s := (float64(i) - at) / testRate
		for k, f := range hz {
			x[i] += gain * math.Exp(-s/0.0008) * math.Sin(2*math.Pi*f*s) / float64(k+1)
		}
	}
}

func noisy(n int, sd float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	for i := range x {
		x[i] = sd * r.NormFloat64()
	}
	return x
}

func single(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
}

func TestStrengthMarksWhereSoundSetsIn(t *testing.T) {
	steady := func(m int) float32 { return 1 }
	cases := []struct {
		name   string
		e      func(m int) float32
		at     int     // block of the greatest strength, −1 where all are 0
		strong float64 // at least
	}{
		{"steady", steady, -1, 0},
		{"digital silence", func(int) float32 { return 0 }, -1, 0},
		{"a beat that rings on", func(m int) float32 {
			if m < 500 {
				return 1
			}
			return 1 + 100*float32(math.Exp(-float64(m-500)/40))
		}, 500, 3},
		{"the same in a room a thousand times as loud", func(m int) float32 {
			if m < 500 {
				return 1000
			}
			return 1000 + 1e5*float32(math.Exp(-float64(m-500)/40))
		}, 500, 3},
	}
	for _, c := range cases {
		e := make([]float32, 4000)
		for m := range e {
			e[m] = c.e(m)
		}
		s := Strength(nil, e, 1000)
		p := 0
		for m, v := range s {
			if v > s[p] {
				p = m
			}
		}
		if c.at < 0 {
			if s[p] != 0 {
				t.Errorf("%s: strength %g at %d, want 0 throughout", c.name, s[p], p)
			}
		} else if max(p-c.at, c.at-p) > 1 || float64(s[p]) < c.strong {
			t.Errorf("%s: greatest strength %.2f at %d, want %.1f or more at %d", c.name, s[p], p, c.strong, c.at)
		}
	}
}

func TestFloorFollowsTheRoomNotTheDoor(t *testing.T) {
	e := make([]float32, 20000)
	for m := range e {
		e[m] = 1
		switch {
		case m >= 3000 && m < 4500: // a slammed door
			e[m] = 1e4
		case m >= 10000: // a lorry that stays
			e[m] = 50
		case m%200 < 20: // beats
			e[m] = 30
		}
	}
	f := Floor(nil, e, 1000)
	for _, c := range []struct {
		at   int
		want float32
	}{{1000, 1}, {3700, 1}, {8000, 1}, {15000, 50}} {
		if f[c.at] != c.want {
			t.Errorf("floor at block %d is %g, want %g", c.at, f[c.at], c.want)
		}
	}
}

func TestContacts(t *testing.T) {
	type sound struct{ ms, gain float64 }
	cases := []struct {
		name   string
		sounds []sound
		noise  float64
		want   []float64 // ms
	}{
		{"three", []sound{{10, 0.5}, {14, 0.7}, {21, 1}}, 0.003, []float64{10, 14, 21}},
		{"a weak first one", []sound{{10, 0.12}, {21, 1}}, 0.003, []float64{10, 21}},
		{"one", []sound{{15, 1}}, 0.003, []float64{15}},
		{"in noise", []sound{{10, 0.6}, {21, 1}}, 0.05, []float64{10, 21}},
		{"another beat's is not of it", []sound{{10, 0.6}, {21, 1}, {75, 0.9}}, 0.003, []float64{10, 21}},
	}
	for _, c := range cases {
		x := noisy(4800, c.noise, 5)
		for _, s := range c.sounds {
			ring(x, s.ms*48, s.gain, 2900, 5300, 8100)
		}
		got := Contacts([][]float64{x}, Difference(testRate), testRate, 40*48)
		if len(got) != len(c.want) {
			t.Errorf("%s: %d contacts %v, want %v ms", c.name, len(got), got, c.want)
			continue
		}
		for i, g := range got {
			if math.Abs(g.At/48-c.want[i]) > 0.06 {
				t.Errorf("%s: contact %d sets in at %.3f ms, want %.1f", c.name, i, g.At/48, c.want[i])
			}
		}
	}
}

// A low note dies away in swells; they are no contacts.
func TestContactsOfALowNote(t *testing.T) {
	x := noisy(4800, 1e-4, 6)
	for i := 480; i < len(x); i++ {
		s := float64(i-480) / testRate
		x[i] += math.Exp(-s/0.003) * math.Sin(2*math.Pi*700*s)
	}
	if got := Contacts([][]float64{x}, Difference(testRate), testRate, 40*48); len(got) != 1 {
		t.Errorf("%d contacts %v in one low note", len(got), got)
	}
}

// flat returns the shaping of a room of white noise.
func flat(tb testing.TB) *Shaping {
	tb.Helper()
	x := noisy(48000, 0.01, 9)
	ring(x, 24000, 1, 3000)
	return NewShaping(single(x), testRate, []int{24000}, 480, 960)
}

// The mark is found to a few hundredths of a frame, wherever between frames it
// lies.
func TestFindBetweenFrames(t *testing.T) {
	template := make([]float64, 240)
	ring(template, 0, 1, 2900, 7100)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 100)
	for _, f := range []float64{0, 0.1, 0.25, 0.5, 0.77} {
		x := make([]float64, 4800)
		ring(x, 2000+f, 0.3, 2900, 7100)
		got, ok := m.Find(single(x), 0, 2003, 50)
		if !ok || math.Abs(got.Frame-2000-f) > 0.03 {
			t.Errorf("a sound at %.2f found at %.3f", 2000+f, got.Frame)
		}
		if math.Abs(got.Gain-0.3) > 0.02 {
			t.Errorf("gain %.3f, want 0.3", got.Gain)
		}
	}
	if _, ok := m.Find(make([]float32, 100), 0, 50, 10); ok {
		t.Error("found in a buffer that does not hold the sound")
	}
	if _, ok := m.Find(make([]float32, 4800), 0, math.NaN(), 10); ok {
		t.Error("found at no place")
	}
}

// A template that is the mean of a few faint beats finds others as clearly as it says, and
// more clearly than one does with all the noise that is left in it.
func TestFaintTemplate(t *testing.T) {
	const beats, length, sd, gain = 20, 600, 0.01, 0.018
	faint := make([]float64, length)
	for seed := range uint64(beats) {
		for i, v := range noisy(length, sd/beats, 900+seed) {
			faint[i] += v
		}
	}
	ring(faint, 100, gain, 3000)
	cleaned, raw := NewMatcher(flat(t), faint, beats, 100, 200), NewMatcher(flat(t), faint, math.MaxInt, 100, 200)
	mean := func(m *Matcher) (snr float64) {
		const others = 300
		for seed := range uint64(others) {
			x := noisy(2048, sd, 2000+seed)
			ring(x, 1000, gain, 3000)
			got, ok := m.Near(single(x), 0, 1000, 2)
			if !ok { // at an end
				got, _ = m.Find(single(x), 0, 1000, 1)
			}
			snr += got.SNR / others
		}
		return snr
	}
	if got, of := mean(cleaned), mean(raw); got < 1.1*of || math.Abs(cleaned.SNR()/got-1) > 0.15 {
		t.Errorf("found at %.2f, which should be %.2f; at %.2f with the noise, which says %.2f", got, cleaned.SNR(), of, raw.SNR())
	}
}

// The scatter of marks in noise is that which the signal-to-noise ratio
// promises: 1/(2π·B·SNR) for a sound of effective bandwidth B (the Cramér-Rao
// bound for delay), and the gain's is gain/SNR.
func TestFindInNoise(t *testing.T) {
	template := make([]float64, 240)
	ring(template, 0, 1, 4000)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 100)
	var off, gain []float64
	var snr float64
	for seed := range uint64(200) {
		x := noisy(2048, 0.01, 100+seed)
		ring(x, 1000, 0.1, 4000)
		got, ok := m.Find(single(x), 0, 1000, 30)
		if !ok {
			t.Fatal("not found")
		}
		off, gain, snr = append(off, got.Frame-1000), append(gain, got.Gain), snr+got.SNR/200
	}
	if sd := deviation(off); sd > 1.6*testRate/(2*math.Pi*4000*snr) {
		t.Errorf("marks scatter by %.3f frames at a signal-to-noise ratio of %.1f", sd, snr)
	}
	if ratio := deviation(gain) / (0.1 / snr); ratio < 0.75 || ratio > 1.33 {
		t.Errorf("the gain scatters %.2f times as much as its signal-to-noise ratio says", ratio)
	}
}

func deviation(x []float64) float64 {
	var mean, sum float64
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(x)))
}

// The band chosen is where the beat stands out, not where it is loudest.
func TestBestAvoidsTheRoom(t *testing.T) {
	x := noisy(96000, 0.001, 3)
	low := 0.0
	for i, v := range noisy(96000, 0.05, 4) { // rumble below some 2 kHz
		low += 0.25 * (v - low)
		x[i] += low
	}
	var starts []int
	for at := 4000; at+2000 < len(x); at += 4800 {
		starts = append(starts, at)
		ring(x, float64(at), 0.02, 1500, 9000)
	}
	s := NewShaping(single(x), testRate, starts, 480, 1500)
	if hz, _ := s.Best(); hz < 5000 {
		t.Errorf("listens about %.0f Hz, where the room is loud", hz)
	}
}

func TestAverageWeighed(t *testing.T) {
	x := make([]float32, 300)
	x[100], x[200] = 1, 4
	a := NewAverage(5, 5)
	a.Add(x, 100)
	b := NewAverage(5, 5)
	b.AddWeighed(x, 200, 0.25)
	a.Join(b)
	if got, want := a.Mean()[5], 2/1.25; math.Abs(got-want) > 1e-6 || a.N != 2 {
		t.Errorf("mean %.3f of %d, want %.3f of 2", got, a.N, want)
	}
}

func BenchmarkFind(b *testing.B) {
	benchmarkMatcher(b, func(m *Matcher, x []float32) { m.Find(x, 0, 1003, 50) })
}
func BenchmarkNear(b *testing.B) {
	benchmarkMatcher(b, func(m *Matcher, x []float32) { m.Near(x, 0, 1003, 8) })
}

func benchmarkMatcher(b *testing.B, find func(*Matcher, []float32)) {
	template := make([]float64, 211)
	ring(template, 0, 1, 2900, 7100)
	m := NewMatcher(flat(b), template, math.MaxInt, 0, 200)
	x := make([]float64, 4800)
	ring(x, 1000, 1, 2900, 7100)
	xs := single(x)
	for b.Loop() {
		find(m, xs)
	}
}

func BenchmarkStrength(b *testing.B) {
	e := single(noisy(60000, 1, 2))
	for i, v := range e {
		e[i] = v * v
	}
	var dst []float32
	b.SetBytes(int64(4 * len(e)))
	for b.Loop() {
		dst = Strength(dst[:0], e, 1000)
	}
}

func BenchmarkNewShaping(b *testing.B) {
	x := single(noisy(120*testRate, 0.01, 2))
	var starts []int
	for at := 2000; at < len(x); at += 9600 {
		starts = append(starts, at)
	}
	b.ReportAllocs()
	for b.Loop() {
		NewShaping(x, testRate, starts, 720, 3840)
	}
}

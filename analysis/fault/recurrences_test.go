package fault

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/train"
)

// badTooth is a run with a tooth that acts on one turn in five, one unrelated
// hesitation an hour, and a detector that now and then misses the beat by one.
func badTooth(seed uint64, teeth, minutes int) (s scene, phase float64) {
	r := rand.New(rand.NewPCG(seed, 8))
	s = hour(seed)
	s.beats, s.random, s.blur = 300*minutes, 1, 0.05
	phase = float64(r.IntN(2 * teeth))
	s.tooth = []tooth{{period: float64(2 * teeth), phase: phase, chance: 0.2, shift: 3e-3}}
	return s, phase
}

func TestBadTooth(t *testing.T) {
	for _, teeth := range []int{12, 15, 16, 20, 30} {
		wheel, err := train.EscapeWheel(teeth)
		if err != nil {
			t.Fatal(err)
		}
		for i := range *trials {
			minutes := 20 + 40*(i%2)
			s, phase := badTooth(*firstSeed+uint64(i), teeth, minutes)
			tr := []*train.Train{nil, wheel}[i/2%2]
			got := s.collect().Recurrences(tr)
			if len(got) != 1 {
				t.Errorf("%d teeth, run %d: %d recurrences: %+v", teeth, i, len(got), got)
				continue
			}
			r := got[0]
			turns := s.beats / (2 * teeth)
			if r.Kind != Events || r.PeriodBeats != float64(2*teeth) || r.PhaseBeats != phase ||
				math.Abs(r.Size-3e-3) > 30e-6 || math.Abs(float64(r.Opportunities-turns)) > 1 || r.Occurrences < turns/10 ||
				r.Occurrences > turns/3 || (r.Match == "escape wheel, one turn") != (tr != nil) || (r.Note != "") != (tr == nil) {
				t.Errorf("%d teeth at beat %g, run %d: %+v", teeth, phase, i, r)
			}
		}
	}
}

func TestModulationOfEveryArbor(t *testing.T) {
	for _, c := range []struct {
		period float64
		match  string
	}{{30, "escape wheel, one turn"}, {300, "fourth arbor, one turn"}, {2250, "third arbor, one turn"}} {
		for i := range *trials {
			seed := *firstSeed + uint64(i)
			s := hour(seed)
			s.wave = sine(c.period, 100e-6, 2*math.Pi*rand.New(rand.NewPCG(seed, 7)).Float64())
			tr, match, exact := exampleTrain(), c.match, 0.0
			if i%2 == 1 {
				tr, match, exact = nil, "", 0.01
			}
			got := s.collect().Recurrences(tr)
			if len(got) != 1 {
				t.Errorf("period %g, run %d: %+v", c.period, i, got)
				continue
			}
			r := got[0]
			if r.Kind != Modulation || math.Abs(r.PeriodBeats/c.period-1) > exact || r.Match != match ||
				math.Abs(r.Size-100e-6) > 6e-6 || math.Abs(float64(r.Occurrences)-18000/c.period) > 1 || r.Opportunities != r.Occurrences {
				t.Errorf("period %g, run %d: %+v", c.period, i, r)
			}
		}
	}
}

// What is reported is the true period of a shape, whatever its harmonics, and
// nothing else.
func TestModulationShapes(t *testing.T) {
	random := make([]float64, 75)
	r := rand.New(rand.NewPCG(5, 5))
	for i := range random {
		random[i] = 50e-6 * r.NormFloat64()
	}
	saw := make([]float64, 60)
	for i := range saw {
		saw[i] = 3e-6 * float64(i)
	}
	spike := make([]float64, 120)
	spike[17] = 60e-6
	twoLobes := make([]float64, 40)
	for i := range twoLobes {
		u := 2 * math.Pi * float64(i) / 40
		twoLobes[i] = 40e-6*math.Sin(u) + 60e-6*math.Sin(2*u+1)
	}
	for _, c := range []struct {
		name   string
		period float64
		values []float64
	}{
		{"random profile", 30, random[:30]},
		{"random profile of an arbor", 2250, random},
		{"saw of half beats", 187.5, saw},
		{"saw", 60, saw},
		{"saw of an arbor", 1234.3, saw},
		{"two lobes", 40, twoLobes},
		{"small spike", 120, spike},
		{"square", 187.5, []float64{0, 100e-6}},
	} {
		for i := range (*trials + 1) / 2 {
			s := hour(*firstSeed + uint64(i))
			s.wave = partly(c.period, c.values)
			got := s.collect().Recurrences(nil)
			if len(got) != 1 || math.Abs(got[0].PeriodBeats/c.period-1) > 1e-3 {
				t.Errorf("%s, %g beats, run %d: %+v", c.name, c.period, i, got)
			}
		}
	}
}

// An arbor that turns in a number of beats and a half shows the beats the same of
// its shape after two turns only. It is named for all that.
func TestModulationOfHalfBeats(t *testing.T) {
	tr := exampleTrain()
	tr.Arbors[3].Wheel = 50 // fourth: 187.5 beats
	r := rand.New(rand.NewPCG(5, 5))
	shape := make([]float64, 50)
	for i := range shape {
		shape[i] = 50e-6 * r.NormFloat64()
	}
	s := hour(*firstSeed)
	s.wave = partly(187.5, shape)
	got := s.collect().Recurrences(tr)
	if len(got) != 1 || got[0].PeriodBeats != 187.5 || got[0].Match != "fourth arbor, one turn" {
		t.Errorf("%+v", got)
	}
}

// A beat displaced by itself is a modulation, be it on every turn or on some.
func TestFleetingTooth(t *testing.T) {
	for _, chance := range []float64{0.2, 1} {
		s := hour(*firstSeed)
		s.tooth = []tooth{{period: 30, phase: 4, chance: chance, shift: 0.5e-3, fleeting: true}}
		got := s.collect().Recurrences(nil)
		if len(got) != 1 || got[0].Kind != Modulation || got[0].PeriodBeats != 30 || got[0].PhaseBeats != 4 ||
			math.Abs(got[0].Size-0.5e-3) > 20e-6 || got[0].Occurrences != 600 {
			t.Errorf("acting on %g of the turns: %+v", chance, got)
		}
	}
}

// A detector that puts half of the events down to the beat before doesn't make
// two phases of one.
func TestEventsOnNeighbouringBeats(t *testing.T) {
	s, phase := badTooth(*firstSeed, 15, 20)
	beats, events := s.play()
	for i := range events {
		events[i].Beat -= int64(i % 2)
	}
	got := gather(beats, events, 500).Recurrences(nil)
	if len(got) != 1 || got[0].PeriodBeats != 30 || got[0].Opportunities > 201 || math.Abs(got[0].PhaseBeats-phase) > 1 {
		t.Errorf("phase %g: %+v", phase, got)
	}
}

func TestBothPallets(t *testing.T) {
	s := hour(*firstSeed)
	s.tooth = []tooth{
		{period: 30, phase: 4, chance: 0.2, shift: 3e-3},
		{period: 30, phase: 9, chance: 0.2, shift: 3e-3}, // five beats on, which 30 is a multiple of
	}
	got := s.collect().Recurrences(nil)
	if len(got) != 1 || got[0].PeriodBeats != 30 || got[0].Opportunities != 1200 || got[0].Occurrences < 180 {
		t.Fatalf("%+v", got)
	}
	if want := "at beats 4 and 9 of the turn; an escape wheel of 15 teeth turns in this time"; got[0].Note != want &&
		got[0].Note != "at beats 9 and 4 of the turn; an escape wheel of 15 teeth turns in this time" {
		t.Errorf("note %q", got[0].Note)
	}
}

// Several recurrences are found one after the other, and modulation beneath them.
func TestSeveralAtOnce(t *testing.T) {
	s := hour(*firstSeed)
	s.random = 10
	s.tooth = []tooth{
		{period: 30, phase: 4, chance: 0.2, shift: 3e-3},
		{period: 2250, phase: 1000, chance: 1, shift: 8e-3},
	}
	wave, slow := sine(300, 100e-6, 0), sine(1500, 300e-6, 2)
	s.wave = func(n int) float64 { return wave(n) + slow(n) }
	found := map[string]Recurrence{}
	got := s.collect().Recurrences(exampleTrain())
	for i, r := range got {
		found[r.Kind+" "+r.Match] = r
		if i > 0 && r.PValue < got[i-1].PValue {
			t.Errorf("%+v is stronger than the one before", r)
		}
	}
	for _, want := range []string{
		"events escape wheel, one turn", "events third arbor, one turn",
		"modulation fourth arbor, one turn", "modulation mesh barrel–centre, one tooth",
	} {
		if _, ok := found[want]; !ok || len(got) != 4 {
			t.Errorf("%s among %d: %v", want, len(got), ok)
		}
	}
	if r := found["events third arbor, one turn"]; r.Occurrences != 8 || r.Opportunities != 8 || r.PhaseBeats != 1000 {
		t.Errorf("third arbor: %+v", r)
	}
}

// The period of an arbor need not be a whole number of beats, nor its train be
// known.
func TestEventsOfFractionalPeriod(t *testing.T) {
	for _, c := range []struct{ period, within float64 }{{1234 + 2./7, 0.02}, {187.5, 0}} {
		s := hour(*firstSeed)
		s.random = 1
		s.tooth = []tooth{{period: c.period, phase: 40, chance: 0.8, shift: 3e-3}}
		got := s.collect().Recurrences(nil)
		if len(got) != 1 || math.Abs(got[0].PeriodBeats-c.period) > c.within {
			t.Errorf("%g: %+v", c.period, got)
		}
	}
}

// Six hesitations in twenty minutes are enough where the wheel is known.
func TestFewEvents(t *testing.T) {
	wheel, _ := train.EscapeWheel(15)
	s := hour(*firstSeed)
	s.beats = 6000
	beats, _ := s.play()
	var events []beat.Event
	for _, turn := range []int{3, 41, 44, 90, 133, 191} {
		events = append(events, beat.Event{Kind: beat.Late, Beat: int64(30*turn + 11), Shift: 3e-3})
		shift(beats, 30*turn+11, 3e-3)
	}
	got := gather(beats, events, 500).Recurrences(wheel)
	if len(got) != 1 || got[0].PeriodBeats != 30 || got[0].Occurrences != 6 || got[0].Opportunities != 200 {
		t.Errorf("%+v", got)
	}
}

// Where the shifts of a tooth's events are not exactly known, what is left of
// them is not a modulation besides.
func TestEventsLeaveNoModulation(t *testing.T) {
	s := hour(*firstSeed)
	s.tooth = []tooth{{period: 60, phase: 4, chance: 1, shift: 3e-3}}
	beats, events := s.play()
	for i := range events {
		events[i].Shift *= 0.97
	}
	if got := gather(beats, events, 500).Recurrences(nil); len(got) != 1 || got[0].Kind != Events || got[0].PeriodBeats != 60 {
		t.Errorf("%+v", got)
	}
}

// A wheel at which time is lost, and which is uneven besides, is one recurrence.
func TestUnevennessBesideEvents(t *testing.T) {
	s := hour(*firstSeed)
	s.tooth = []tooth{{period: 30, phase: 4, chance: 0.3, shift: 2e-3}}
	s.wave = sine(30, 150e-6, 0)
	got := s.collect().Recurrences(nil)
	if len(got) != 1 || got[0].Kind != Events || got[0].PeriodBeats != 30 || !strings.Contains(got[0].Note, "uneven by 0.15 ms besides") {
		t.Errorf("%+v", got)
	}
}

// Missed beats and extra sounds return as well, and may keep to one pallet.
func TestEventsThatDisplaceNothing(t *testing.T) {
	s := hour(*firstSeed)
	s.beats = 6000
	beats, _ := s.play()
	r := rand.New(rand.NewPCG(9, 9))
	var events []beat.Event
	for i := range beats {
		if i%2 == 1 && r.Float64() < 0.02 {
			beats[i].Heard = false
			events = append(events, beat.Event{Kind: beat.Missed, Beat: int64(i)})
		}
		if i%300 == 120 {
			events = append(events, beat.Event{Kind: beat.Extra, Beat: int64(i)})
		}
	}
	got := gather(beats, events, 500).Recurrences(nil)
	if len(got) != 2 || got[0].PeriodBeats+got[1].PeriodBeats != 302 || got[0].Size != 0 || got[1].Size != 0 {
		t.Errorf("%+v", got)
	}
}

// Clean runs have nothing that returns: not with scatter, drift, wander of the
// rate or of the phase, hesitations at random, or beats that are not heard.
func TestCleanRuns(t *testing.T) {
	claims, runs := 0, 0
	for name, change := range map[string]func(*scene, *rand.Rand){
		"scatter": func(s *scene, _ *rand.Rand) { s.drift = nil },
		"drift":   func(*scene, *rand.Rand) {},
		"wander":  func(s *scene, r *rand.Rand) { s.wander = 20 * r.Float64() },
		"events":  func(s *scene, r *rand.Rand) { s.random, s.blur = 100*r.Float64(), 0.05 },
		"unheard": func(s *scene, r *rand.Rand) { s.unheard, s.wander = 0.2*r.Float64(), 1 },
		"deaf":    func(s *scene, r *rand.Rand) { s.deaf[0] = 1000 + r.IntN(14000); s.deaf[1] = s.deaf[0] + 1500 },
		"uneven": func(s *scene, r *rand.Rand) {
			s.wave = func(n int) float64 { return float64(n%2) * 100e-6 * r.NormFloat64() }
		},
		"misplaced": func(s *scene, r *rand.Rand) { // on the side that is faint
			s.wave = func(n int) float64 {
				if n%2 == 1 && r.Float64() < 0.02 {
					return 7e-4
				}
				return 0
			}
		},
		"slow": func(s *scene, r *rand.Rand) { s.wave = sine(18000/(1+2*r.Float64()), 40e-3, 6*r.Float64()) },
		"walk": func(s *scene, r *rand.Rand) { s.wave = walk(s.beats, 20e-6, r) },
		"start-up": func(s *scene, _ *rand.Rand) {
			s.wave = func(n int) float64 { return 50e-3 * math.Exp(-float64(n)/400) }
		},
	} {
		for i := range *trials {
			seed := *firstSeed + uint64(i)
			s := hour(seed)
			change(&s, rand.New(rand.NewPCG(seed, 6)))
			tr := []*train.Train{nil, exampleTrain()}[i%2]
			runs++
			if got := s.collect().Recurrences(tr); len(got) > 0 {
				claims++
				t.Logf("%s, run %d: %+v", name, i, got)
			}
		}
	}
	if claims > runs/100 {
		t.Errorf("recurrences claimed in %d of %d clean runs", claims, runs)
	}
}

// walk is a random walk of the phase by a step a beat.
func walk(n int, step float64, r *rand.Rand) func(int) float64 {
	x := make([]float64, n)
	for i := 1; i < n; i++ {
		x[i] = x[i-1] + step*r.NormFloat64()
	}
	return func(i int) float64 { return x[i] }
}

// The p-value is a probability: under noise alone the strongest sign of a wave is
// as small as p in no more than that share of the runs.
func TestPValueOfNoise(t *testing.T) {
	const level = 0.2
	runs, below := 12**trials, 0
	for i := range runs {
		s := hour(*firstSeed + uint64(i))
		s.beats, s.wander = 3000, 2
		q := newSearch(&s.collect().finish().fine, nil, 0, 1)
		if q.spectrum().strongest(nil, 1).logp < math.Log(level) {
			below++
		}
	}
	if most := level*float64(runs) + 3*math.Sqrt(level*float64(runs)); float64(below) > most {
		t.Errorf("p below %g in %d of %d runs", level, below, runs)
	}
	t.Logf("p below %g in %d of %d runs", level, below, runs)
}

// A run of more than one segment: a wheel in the segments, a slow arbor in the
// averages.
func TestLongRun(t *testing.T) {
	s := hour(*firstSeed)
	s.beats = wholeLength + 50_000
	s.tooth = []tooth{{period: 36, phase: 5, chance: 0.02, shift: 3e-3}}
	fast, slow := sine(300.3, 30e-6, 0), sine(30_000, 2e-3, 1)
	s.wave = func(n int) float64 { return fast(n) + slow(n) }
	got := s.collect().Recurrences(nil)
	if len(got) != 3 {
		t.Fatalf("%+v", got)
	}
	for _, r := range got {
		var period, size, within float64
		switch {
		case r.Kind == Events:
			period, size = 36, 3e-3
		case r.PeriodBeats < 1000:
			period, size, within = 300.3, 30e-6, 1e-4
		default:
			period, size, within = 30_000, 2e-3, 1e-2
		}
		if math.Abs(r.PeriodBeats/period-1) > within || math.Abs(r.Size/size-1) > 0.1 {
			t.Errorf("want %g beats, %g s: %+v", period, size, r)
		}
	}
}

func BenchmarkRecurrences(b *testing.B) {
	s := hour(1)
	s.beats, s.random = 144_000, 1
	s.tooth = []tooth{{period: 30, phase: 3, chance: 0.1, shift: 3e-3}}
	s.wave = sine(300, 100e-6, 0)
	beats, events := s.play()
	for b.Loop() {
		c := gather(beats, events, 1000)
		if got := c.Recurrences(exampleTrain()); len(got) != 2 {
			b.Fatalf("%+v", got)
		}
	}
}

// A short run of a wheel whose teeth are uneven at random, so that some of its harmonics are
// missing: what is reported is one turn of it, and nothing else.
func TestUnevenTeethOfAShortRun(t *testing.T) {
	for i := range uint64(12) {
		r := rand.New(rand.NewPCG(*firstSeed+i, 9))
		teeth := make([]float64, 60)
		for k := range teeth {
			teeth[k] = 53e-6 * r.NormFloat64()
		}
		s := scene{seed: *firstSeed + i, perHour: 8640, beats: 1700, jitter: 40e-6, wave: func(n int) float64 { return teeth[n%60] }}
		got := s.collect().Recurrences(nil)
		if len(got) != 1 || got[0].PeriodBeats != 60 {
			t.Errorf("run %d: %+v", i, got)
		}
	}
}

// Uneven teeth tell by more time while the amplitude falls, and the amplitude has swings: that
// is no second wheel beside the first.
func TestUnevenTeethOfARunDown(t *testing.T) {
	const beats = 6900
	for i := range uint64(8) {
		r := rand.New(rand.NewPCG(*firstSeed+i, 10))
		teeth := make([]float64, 30)
		for k := range teeth {
			teeth[k] = 50e-6 * r.NormFloat64()
		}
		s := scene{seed: *firstSeed + i, perHour: 20867, beats: beats, jitter: 10e-6, wave: func(n int) float64 {
			return teeth[n%30] * (1 + 0.1*math.Sin(2*math.Pi*5.7*float64(n)/beats))
		}}
		got := s.collect().Recurrences(nil)
		beside := func(g Recurrence) bool {
			off := math.Abs(math.Remainder(30/g.PeriodBeats, 1)) * beats / 30 // turns
			return off > 0.25 && off < 16
		}
		if len(got) == 0 || slices.ContainsFunc(got, beside) {
			t.Errorf("run %d: %+v", i, got)
		}
	}
}

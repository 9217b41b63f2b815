package fault

import (
	"cmp"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"rundown/analysis/beat"
)

// regular returns n beats a fifth of a second apart.
func regular(n int) []beat.Beat {
	beats := make([]beat.Beat, n)
	for i := range beats {
		beats[i] = beat.Beat{Index: int64(i), Time: 0.2 * float64(i), Side: beat.Side(i % 2), Heard: true}
	}
	return beats
}

// shift displaces the beats from one on.
func shift(beats []beat.Beat, from int, by float64) {
	for i := from; i < len(beats); i++ {
		beats[i].Time += by
	}
}

// Displacements that events tell of leave nothing behind, whatever their kind.
func TestCollectorTakesDisplacementsOut(t *testing.T) {
	beats := regular(3000)
	shift(beats, 500, 4e-3)
	shift(beats, 900, -2e-3)
	shift(beats, 1500, 42) // a stop after beat 1499
	shift(beats, 2000, -0.7)
	for i := 2000; i < 2010; i++ {
		beats[i].Heard = false
		beats[i].Time = -1e9 // a prediction, of no weight
	}
	events := []beat.Event{
		{Kind: beat.Late, Beat: 500, Shift: 4e-3},
		{Kind: beat.Missed, Beat: 700},
		{Kind: beat.Early, Beat: 900, Shift: -2e-3},
		{Kind: beat.Stop, Beat: 1499, Shift: 42},
		{Kind: beat.Gap, Beat: 2000, Shift: -0.7},
	}
	r := gather(beats, events, 100).finish()
	for i := range r.fine.n {
		if v := r.fine.at(i); math.Abs(v) > 1e-9 {
			t.Fatalf("beat %d deviates by %g s", i, v)
		}
		if heard := !math.IsNaN(r.fine.at(i)); heard != beats[i].Heard {
			t.Fatalf("beat %d heard: %v", i, heard)
		}
	}
	if math.Abs(r.interval-0.2) > 1e-12 {
		t.Errorf("interval %g", r.interval)
	}
}

// The steps are rounded to 24 bits, but the errors don't add up, not even where
// the rate changes so much that the steps are large.
func TestCollectorKeepsPrecision(t *testing.T) {
	beats := regular(100_000)
	for i := range beats {
		u := float64(i) / 1e5
		beats[i].Time += 1000*u*u + 1e-5*math.Sin(float64(i)) // sine of 6.28 beats
	}
	r := gather(beats, nil, 4096).finish()
	for i := 10_000; i < 90_000; i++ {
		if d := r.fine.at(i) - 1e-5*math.Sin(float64(i)); math.Abs(d) > 5e-9 {
			t.Fatalf("beat %d off by %g s", i, d)
		}
	}
}

func TestCollectorDoesNotDependOnBatches(t *testing.T) {
	s := hour(1)
	s.beats, s.random, s.wave = 6000, 20, sine(40, 100e-6, 0)
	s.tooth = []tooth{{period: 30, phase: 7, chance: 0.2, shift: 3e-3}}
	beats, events := s.play()
	want := gather(beats, events, len(beats)).Recurrences(exampleTrain())
	if len(want) != 2 {
		t.Fatalf("%d recurrences, want 2: %+v", len(want), want)
	}
	for _, size := range []int{1, 7, 1000} {
		if got := gather(beats, events, size).Recurrences(exampleTrain()); !reflect.DeepEqual(got, want) {
			t.Errorf("batches of %d beats: %+v, want %+v", size, got, want)
		}
	}
}

// Asking twice gives the same answer, and charts in between change nothing.
func TestCollectorMayBeAskedAgain(t *testing.T) {
	s := hour(1)
	s.beats, s.wave = 6000, sine(30, 100e-6, 0)
	c := s.collect()
	first := c.Recurrences(nil)
	c.Fold(30, 0)
	c.Map(30, 100)
	if again := c.Recurrences(nil); len(first) != 1 || !reflect.DeepEqual(first, again) {
		t.Errorf("first %+v, then %+v", first, again)
	}
}

// A run of a few beats, or none, has nothing that returns.
func TestCollectorOfShortRuns(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{0, 1, 2, 3, 5, 20, 127, 130, 300} {
		beats := regular(n)
		var events []beat.Event
		for range n / 10 {
			events = append(events, beat.Event{Kind: beat.Extra, Beat: r.Int64N(int64(n))})
		}
		slices.SortFunc(events, func(a, b beat.Event) int { return cmp.Compare(a.Beat, b.Beat) })
		c := gather(beats, events, 10)
		if got := c.Recurrences(exampleTrain()); len(got) != 0 {
			t.Errorf("%d beats: %+v", n, got)
		}
		c.Fold(30, 0)
		c.Map(30, 10)
	}
	unheard := regular(500)
	for i := range unheard {
		unheard[i].Heard = false
	}
	if got := gather(unheard, nil, 100).Recurrences(nil); len(got) != 0 {
		t.Errorf("nothing heard: %+v", got)
	}
}

func TestAppendAfterTheEndPanics(t *testing.T) {
	c := gather(regular(10), nil, 10)
	c.Recurrences(nil)
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	c.Append(regular(1), nil)
}

// A beat costs four bytes, in chunks of half a MiB.
func TestCollectorMemory(t *testing.T) {
	const n = 1_000_000
	batch := regular(1000)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	var c Collector
	for from := 0; from < n; from += len(batch) {
		for i := range batch {
			batch[i].Index = int64(from + i)
			batch[i].Time = 0.2 * float64(from+i)
		}
		c.Append(batch, nil)
	}
	runtime.ReadMemStats(&after)
	if got, most := after.TotalAlloc-before.TotalAlloc, uint64(4*n+1<<20); got > most {
		t.Errorf("%d bytes for %d beats, want at most %d", got, n, most)
	}
}

func BenchmarkAppend(b *testing.B) {
	s := hour(1)
	s.beats, s.random = 144_000, 30
	beats, events := s.play()
	for b.Loop() {
		gather(beats, events, 1000)
	}
}

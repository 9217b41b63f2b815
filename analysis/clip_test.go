package analysis

import (
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/analysis/beat"
)

// The keeper must agree with sorting all clips and taking the first few,
// whatever order they come in.
func TestClipKeeperKeepsTheMostTelling(t *testing.T) {
	var events []beat.Event
	for i := range 40 {
		events = append(events, beat.Event{
			Kind: beat.Kinds[i*5%len(beat.Kinds)], Start: float64(i), End: float64(i) + 1, Shift: float64(i*13%17-8) * 1e-3,
		})
	}
	want := slices.Clone(events)
	slices.SortFunc(want, Telling)
	want = want[:7]
	rng := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		rng.Shuffle(len(events), func(i, j int) { events[i], events[j] = events[j], events[i] })
		k := clipKeeper{limit: 7}
		for _, ev := range events {
			k.offer(ev, []float32{float32(ev.Start) / 64}, ev.Start, 8000)
		}
		for i, c := range k.clips {
			if c.Event != want[i] || c.Samples[0] != int16(c.Event.Start)*512 {
				t.Fatalf("clip %d is of %+v with %v, want %+v with its own sound", i, c.Event, c.Samples, want[i])
			}
		}
	}
	none := clipKeeper{}
	none.offer(events[0], []float32{0}, 0, 8000)
	if len(none.clips) > 0 {
		t.Error("a keeper of no clips kept one")
	}
}

func TestTrim(t *testing.T) {
	const rate = 192000.0
	sound := make([]float32, 4*maxClipFrames)
	for i := range sound {
		sound[i] = float32(i)
	}
	for _, event := range []float64{0, 1.5, 2.7} {
		got, start := trim(sound, 100, rate, 100+event)
		if len(got) != maxClipFrames {
			t.Fatalf("%d frames", len(got))
		}
		if first := float64(got[0]); start != 100+first/rate {
			t.Errorf("start %v does not belong to frame %v", start, first)
		}
		if start > 100+event || start+float64(len(got))/rate < 100+event {
			t.Errorf("event at %v is cut out: the clip starts at %v", 100+event, start)
		}
	}
}

func TestToInt16(t *testing.T) {
	for x, want := range map[float32]int16{0: 0, 1: 32767, -1: -32768, 7: 32767, -7: -32768, 0.5: 16384} {
		if got := toInt16(x); got != want {
			t.Errorf("toInt16(%v) = %d, want %d", x, got, want)
		}
	}
}

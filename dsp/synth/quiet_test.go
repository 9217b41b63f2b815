package synth

import (
	"math"
	"testing"
)

func TestRoomsAreHeard(t *testing.T) {
	for _, room := range Rooms() {
		for _, rate := range []int{8000, 22050} {
			peak := 20 * math.Log10(greatest(read(t, Quiet(room, 4, 6, rate).Render(), 4096)[0]))
			switch {
			case room == "zeros":
				if !math.IsInf(peak, -1) {
					t.Errorf("zeros peak at %g dBFS", peak)
				}
			case room == "silence":
				if peak > -50 {
					t.Errorf("silence peaks at %g dBFS", peak)
				}
			case peak < -45 || peak > 0:
				t.Errorf("%s at %d Hz peaks at %g dBFS", room, rate, peak)
			}
		}
	}
}

func TestRoomsHaveNoBeats(t *testing.T) {
	truth := Quiet("drip", 1, 60, 8000).Truth()
	if len(truth.Beats) != 0 || len(truth.Events) != 0 {
		t.Errorf("%d beats and events %v", len(truth.Beats), truth.Events)
	}
}

func TestRoomSoundsHaveTheirLevel(t *testing.T) {
	for kind, tolerance := range map[string]float64{"slam": 0.1, "knock": 0.1, "white": 0.3, "lorry": 3, "gust": 4, "music": 6} {
		rec := Recording{Seed: 9, Duration: 12, Movement: Movement{Absent: true}, Room: Room{
			Noise:  "none",
			Sounds: []RoomSound{{Kind: kind, Occasion: Occasion{At: 2}, For: 8, Level: 6}},
		}}
		rec.Recorder.Float = true
		x := read(t, rec.Render(), 4096)[0]
		got := greatest(x)
		if kind != "slam" && kind != "knock" {
			got = rms(x[5*48000 : 7*48000])
		}
		near(t, kind+" level in dBFS", 20*math.Log10(got), -12+6, tolerance)
		if before := rms(x[:2*48000-1]); before != 0 {
			t.Errorf("%s is heard before its time", kind)
		}
	}
}

package synth

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
)

const someRecipe = `
duration_s = 1200
seed = 5

[movement]
beats_per_hour = 21600
beat_error_s = 0.0005

[movement.mainspring]
run_time_s = 1100

[[movement.fault]]
kind = "late"
per_hour = 30
size_s = 0.003
upto_s = 0.02

[[movement.recurrence]]
period_beats = 30
phase_beats = 7
probability = 0.2
size_s = 0.004

[room]
noise = "rain"
snr_db = 22

[[room.sound]]
kind = "slam"
at_s = 100
level_db = 10

[recorder]
clock_ppm = 12.5

[[recorder.fault]]
kind = "cut"
at_s = 600
`

func TestReadRecipe(t *testing.T) {
	got, err := ReadRecipe(strings.NewReader(someRecipe))
	if err != nil {
		t.Fatal(err)
	}
	var want Recording
	want.Seed, want.Duration = 5, 1200
	want.Movement.BeatsPerHour, want.Movement.BeatError = 21600, 0.0005
	want.Movement.Mainspring.RunTime = 1100
	want.Movement.Faults = []Fault{{Kind: "late", Occasion: Occasion{PerHour: 30}, Size: 0.003, Upto: 0.02}}
	want.Movement.Recurrences = BadTooth(15, 7, -1, 0.2, 0.004)
	want.Room.Noise, want.Room.SNR = "rain", 22
	want.Room.Sounds = []RoomSound{{Kind: "slam", Occasion: Occasion{At: 100}, Level: 10}}
	want.Recorder.ClockPPM = 12.5
	want.Recorder.Faults = []RecorderFault{{Kind: "cut", Occasion: Occasion{At: 600}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestRecipeComesBack(t *testing.T) {
	for name, rec := range map[string]Recording{"demo": Demo(), "busy": busy(10), "random": Random(3, 60, 20)} {
		recipe, err := rec.Recipe()
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := toml.NewEncoder(&text).Encode(recipe); err != nil {
			t.Fatal(err)
		}
		back, err := ReadRecipe(&text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got, want := back.Truth(), rec.Truth(); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: the recipe makes another recording", name)
		}
	}
}

func TestSenselessRecipes(t *testing.T) {
	tests := map[string]string{
		"duration_s = -1":                                 "duration_s",
		"[movement]\nbeats_per_hour = nan":                "movement.beats_per_hour",
		"[movement]\nbph = 18000":                         "movement.bph",
		"[[movement.fault]]\nkind = \"lame\"":             "movement.fault 1: kind",
		"[[movement.fault]]\nkind=\"early\"\nsize_s = 1":  "movement.fault 1: size_s",
		"[[movement.recurrence]]\nperiod_beats = 0":       "movement.recurrence 1: period_beats",
		"[movement.mainspring]\nfull_deg = 20":            "movement.mainspring.full_deg",
		"[room]\nnoise = \"crowd\"":                       "room.noise",
		"[[room.sound]]\nkind = \"slam\"\nper_hour = inf": "room.sound 1: per_hour",
		"[recorder]\nbits_per_sample = 12":                "recorder.bits_per_sample",
		"[recorder]\nchannel = 2":                         "recorder.channel",
		"[recorder.reference]\nhz = 1\nchannel = 1":       "recorder.reference.channel",
		"seed = \"one\"":                                  "seed",
	}
	for text, want := range tests {
		_, err := ReadRecipe(strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q gives the error %v, not one line on %s", text, err, want)
		}
	}
}

func FuzzReadRecipe(f *testing.F) {
	f.Add(someRecipe)
	f.Add("[recorder]\nchannels = 6")
	f.Fuzz(func(t *testing.T, text string) {
		rec, err := ReadRecipe(strings.NewReader(text))
		if err != nil {
			return
		}
		// A short recording of whatever passes the check must not panic.
		rec.Duration = 0.05
		src := rec.Render()
		buf := make([][]float32, src.Format().Channels)
		for c := range buf {
			buf[c] = make([]float32, 4096)
		}
		if _, err := src.Read(buf); err != nil {
			t.Error(err)
		}
	})
}

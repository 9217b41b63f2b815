package beat

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// Statistical trials run few recordings by default. To see how good the search
// is, run many, from a number on that it was not set by.
var (
	trials    = flag.Int("trials", 2, "recordings of each statistical trial")
	fromTrial = flag.Int("from", 0, "number of the first recording of each statistical trial")
)

// clip returns the samples of a file, of one channel and at most 10 s long.
func clip(tb testing.TB, file string) []float32 {
	src, err := wavio.Open(file)
	if err != nil {
		tb.Fatal(err)
	}
	defer src.Close()
	x := make([]float32, 10*src.Format().SampleRate)
	n, _ := readFull(src, [][]float32{x}, len(x))
	return x[:n]
}

// clips returns real recordings of rooms without a clock, at 44.1 kHz; none where
// they are not at hand.
func clips(tb testing.TB) (names []string, samples [][]float32) {
	files, _ := filepath.Glob(filepath.Join(os.Getenv("RUNDOWN_RECORDINGS"), "rooms", "*.wav"))
	for _, file := range files {
		names, samples = append(names, filepath.Base(file)), append(samples, clip(tb, file))
	}
	return names, samples
}

// patchwork lays cuts of a clip one after the other, faded into each other, at
// random: a longer recording of the same room, without the clip's own period.
func patchwork(clip []float32, n int, r *rand.Rand) []float32 {
	const fade = 2000
	out := make([]float32, n)
	for at := 0; at < n; {
		long := min(len(clip), fade*3+r.IntN(3*44100))
		cut := clip[r.IntN(len(clip)-long+1):][:long]
		for i, v := range cut {
			if at+i < n {
				edge := min(1, float32(i)/fade, float32(long-i)/fade)
				out[at+i] += edge * v
			}
		}
		at += long - fade
	}
	return out
}

// quiet makes recording i of a trial of rooms without a clock: all kinds in
// turn, and lengths from 5 s to most and sample rates from 8 to 96 kHz at random.
func quiet(i int, most float64, names []string, samples [][]float32) (string, synth.Recording) {
	r := rand.New(rand.NewPCG(uint64(i), 90))
	rooms := synth.Rooms()
	seconds := 5 * math.Pow(most/5, r.Float64())
	rate := []int{8000, 16000, 22050, 44100, 44100, 48000, 48000, 96000}[r.IntN(8)]
	k := i % (len(rooms) + len(names))
	if k < len(rooms) {
		rec := synth.Quiet(rooms[k], uint64(i), seconds, rate)
		return fmt.Sprintf("%s (%d), %.0f s at %d Hz", rooms[k], i, seconds, rate), rec
	}
	k -= len(rooms)
	rec := synth.Recording{Seed: uint64(i), Duration: seconds}
	rec.Movement.Absent = true
	rec.Room.Samples = patchwork(samples[k], int((seconds+2)*44100), r)
	rec.Room.SamplesRate = 44100
	rec.Room.Level = -20 - 20*r.Float64()
	rec.Recorder.SampleRate = rate
	return fmt.Sprintf("%s (%d), %.0f s at %d Hz", names[k], i, seconds, rate), rec
}

// found returns the period, in seconds, of the beat that is found in a
// recording; 0 where none is.
func found(tb testing.TB, rec synth.Recording) float64 {
	f := newFollower(context.Background(), rec.Render(), Options{}, nil)
	if err := f.find(); err != nil {
		tb.Fatal(err)
	}
	if f.tracker == nil {
		return 0
	}
	return f.tracker.model.period / f.rate
}

// No beat, no rate: over 200 recordings, at most one false one.
func TestNoBeatNoRate(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: a statistical trial")
	}
	names, samples := clips(t)
	claimed := 0
	for i := *fromTrial; i < *fromTrial+*trials*2; i++ {
		name, rec := quiet(i, min(600, 20+3*float64(*trials)), names, samples)
		if period := found(t, rec); period > 0 {
			claimed++
			t.Logf("%s: a beat of period %.4f s is claimed", name, period)
		}
	}
	t.Logf("%d of %d", claimed, *trials*2)
	if claimed > *trials/100 {
		t.Errorf("a beat is claimed in %d of %d recordings without one", claimed, *trials*2)
	}
}

// counts are customary beats an hour (common practice).
var counts = []float64{3600, 7200, 9000, 12000, 14400, 16200, 18000, 19800, 21600, 25200, 28800, 36000}

// beatIn makes recording i of a trial of movements in loud rooms, 12 dB above
// them, two minutes long: all kinds of rooms in turn, the real ones twice as
// often.
func beatIn(i int, names []string, samples [][]float32) (string, synth.Recording) {
	r := rand.New(rand.NewPCG(uint64(i), 91))
	// Of hum, nothing is in the frequencies by which the level is set.
	rooms := slices.DeleteFunc(synth.Textures(), func(name string) bool { return name == "hum" })
	rec := synth.Recording{Seed: uint64(i), Duration: 125}
	rec.Movement.BeatsPerHour = counts[r.IntN(len(counts))]
	rec.Movement.BeatError = 0.02 * rec.Movement.Interval() * (2*r.Float64() - 1)
	rec.Sound.TockLevel = 4 * (2*r.Float64() - 1)
	rec.Room.SNR = 12
	rec.Recorder.SampleRate = []int{22050, 44100, 48000}[r.IntN(3)]
	k := i % (len(rooms) + 2*len(names))
	var name string
	if k < len(rooms) {
		name, rec.Room.Noise = rooms[k], rooms[k]
	} else {
		k = (k - len(rooms)) % len(names)
		name = names[k]
		rec.Room.Samples, rec.Room.SamplesRate = patchwork(samples[k], 127*44100, r), 44100
	}
	return fmt.Sprintf("%s (%d), %g beats an hour", name, i, rec.Movement.BeatsPerHour), rec
}

// A beat 12 dB above a loud room is never given another count, and it is found in all but
// one of six: of the first 60, in 53.
func TestFindsBeatInRoom(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: a statistical trial")
	}
	names, samples := clips(t)
	missed := 0
	for i := *fromTrial; i < *fromTrial+*trials; i++ {
		name, rec := beatIn(i, names, samples)
		period, want := found(t, rec), 7200/rec.Movement.BeatsPerHour
		switch {
		case period == 0:
			missed++
			t.Logf("%s: not found", name)
		case math.Abs(period/want-1) > 0.01:
			t.Errorf("%s: period %.4f s, want %.4f s", name, period, want)
		}
	}
	if t.Logf("%d of %d not found", missed, *trials); missed > (*trials+5)/6 {
		t.Errorf("%d of %d beats are not found", missed, *trials)
	}
}

// Clicks that are nearly alike and exactly evenly spaced are found at their
// count, too, 12 dB above a real room: both sides may be taken for one.
func TestFindsEvenClicksInRoom(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: a statistical trial")
	}
	recordings(t)
	names, samples := clips(t)
	const rate = 44100
	bad := 0
	for i := *fromTrial; i < *fromTrial+*trials; i++ {
		r := rand.New(rand.NewPCG(uint64(i), 93))
		k, count := i%len(names), counts[r.IntN(len(counts))]
		x := patchwork(samples[k], 125*rate, r)
		clicks(x, rate, count, 4*math.Sqrt(power(x)), 30e-6, r)
		if period, _ := heardIn(t, rate, x); math.Abs(period*count/7200-1) > 0.01 {
			bad++
			t.Logf("%s (%d), %g beats an hour: period %.4f s, want %.4f s", names[k], i, count, period, 7200/count)
		}
	}
	t.Logf("%d of %d", bad, *trials)
	if bad > *trials/50 {
		t.Errorf("%d of %d are not found, or not at their count", bad, *trials)
	}
}

// A faint movement that is started late is found at its count, and from its
// first beats on: where nothing was heard, the search saves time, not beats.
func TestFindsBeatThatBeginsLate(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: a statistical trial")
	}
	n := (*trials + 3) / 4
	bad := 0
	for i := *fromTrial; i < *fromTrial+n; i++ {
		r := rand.New(rand.NewPCG(uint64(i), 92))
		rec := synth.Recording{Seed: uint64(i), Duration: 330}
		rec.Movement.BeatsPerHour = counts[r.IntN(len(counts))]
		rec.Movement.Start = 150 + 60*r.Float64()
		rec.Sound.TockLevel = 4 * (2*r.Float64() - 1)
		rec.Room.SNR, rec.Room.Noise = 20, []string{"white", "pink", "brown"}[r.IntN(3)]
		rec.Recorder.SampleRate = []int{16000, 22050}[r.IntN(2)]
		f := newFollower(context.Background(), rec.Render(), Options{}, nil)
		if err := f.find(); err != nil {
			t.Fatal(err)
		}
		period, want := 0.0, 7200/rec.Movement.BeatsPerHour
		if f.tracker != nil {
			period = f.tracker.model.period / f.rate
		}
		from := float64(f.first) / f.rate
		if math.Abs(period/want-1) > 0.01 || from > rec.Movement.Start+0.01 {
			bad++
			t.Logf("%d, %g beats an hour from %.1f s on: period %.4f s, want %.4f s, searched from %.1f s on", i, rec.Movement.BeatsPerHour, rec.Movement.Start, period, want, from)
		}
	}
	t.Logf("%d of %d", bad, n)
	if bad > n/50 {
		t.Errorf("%d of %d beats that begin late are not found, or not from the start", bad, n)
	}
}

// power returns the mean square of x.
func power(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return sum / float64(len(x))
}

package beat

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sort"
	"strconv"
	"testing"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// run follows a source to its end and returns all that it emits.
func run(tb testing.TB, src wavio.Source, opt Options) (Batch, Report) {
	tb.Helper()
	var all Batch
	report, err := Follow(context.Background(), src, opt, func(b *Batch) error {
		all.Beats = append(all.Beats, b.Beats...)
		all.Events = append(all.Events, b.Events...)
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
	return all, report
}

// recordings returns the folder of real recordings, or skips the test.
func recordings(t *testing.T) string {
	dir := os.Getenv("RUNDOWN_RECORDINGS")
	if dir == "" {
		t.Skip("skipped: RUNDOWN_RECORDINGS does not name the folder of real recordings")
	}
	return dir
}

// realClock is a recording of a clock, at 44.1 kHz.
type realClock struct {
	name      string
	samples   []float32
	period    float64 // seconds
	tolerance float64 // of the period, relative
}

// realClocks returns recordings of clocks, their periods annotated by hand from
// the envelope (clips of the ESC-10 data set, K. J. Piczak, 2015; the annotation
// is beside them).
func realClocks(t *testing.T) []realClock {
	dir := filepath.Join(recordings(t), "clocks")
	f, err := os.Open(filepath.Join(dir, "truth.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var clocks []realClock
	for _, row := range rows[1:] {
		period, _ := strconv.ParseFloat(row[1], 64)
		percent, _ := strconv.ParseFloat(row[3], 64)
		clocks = append(clocks, realClock{row[0], clip(t, filepath.Join(dir, row[0])), period, percent / 100})
	}
	return clocks
}

func TestRealClocks(t *testing.T) {
	for _, c := range realClocks(t) {
		all, report := run(t, wavio.FromSamples(44100, c.samples), Options{})
		if !report.Found || len(all.Beats) < 3 {
			t.Errorf("%s: no beat (%d); it has a period of %.4f s", c.name, len(all.Beats), c.period)
			continue
		}
		if off := report.Period/c.period - 1; math.Abs(off) > c.tolerance {
			t.Errorf("%s: period %.4f s, want %.4f s within %.1f %%: %.2f %% off", c.name, report.Period, c.period, 100*c.tolerance, 100*off)
		}
	}
}

// Rooms, weather, animals and machines from the same data set, with no clock in
// them.
func TestRealRoomsHaveNoBeat(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(recordings(t), "rooms", "*.wav"))
	if len(files) < 20 {
		t.Fatalf("%d rooms", len(files))
	}
	for _, name := range files {
		src, err := wavio.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		all, report := run(t, src, Options{})
		src.Close()
		if report.Found || len(all.Beats) > 0 {
			t.Errorf("%s: a beat of period %.4f s is claimed", filepath.Base(name), report.Period)
		}
		if report.Heard == "" {
			t.Errorf("%s: it is not said what was heard", filepath.Base(name))
		}
	}
}

func TestRoomsHaveNoBeat(t *testing.T) {
	for i, room := range synth.Rooms() {
		if testing.Short() && i%4 != 0 {
			continue
		}
		t.Run(room, func(t *testing.T) {
			t.Parallel()
			_, report := run(t, synth.Quiet(room, 77, 21, sampled).Render(), Options{})
			if report.Found {
				t.Errorf("a beat of period %.4f s is claimed", report.Period)
			}
			if report.Heard == "" {
				t.Error("it is not said what was heard")
			}
		})
	}
}

// sampled is the sample rate of these recordings, Hz, where nothing depends on it.
const sampled = 8000

// movement returns a recording to vary.
func movement(bph, seconds, snr float64) synth.Recording {
	r := synth.Recording{Seed: uint64(bph) + uint64(snr), Duration: seconds}
	r.Recorder.SampleRate = sampled
	r.Movement.BeatsPerHour = bph
	r.Movement.BeatError = 0.0008
	r.Room.SNR = snr
	return r
}

// nearest returns by how much a time is off the nearest true beat, and which
// that is.
func nearest(truth *synth.Truth, time float64) (off float64, i int) {
	i = sort.Search(len(truth.Beats), func(i int) bool { return truth.Beats[i].Elapsed >= time })
	if i == len(truth.Beats) || i > 0 && time-truth.Beats[i-1].Elapsed < truth.Beats[i].Elapsed-time {
		i--
	}
	return time - truth.Beats[i].Elapsed, i
}

func TestCountsEveryBeat(t *testing.T) {
	cases := []struct {
		name string
		vary func(*synth.Recording)
		bph  float64
		snr  float64
	}{
		{"slow", nil, 3600, 30},
		{"customary, 48 kHz", func(r *synth.Recording) { r.Recorder.SampleRate = 48000 }, 18000, 20},
		{"fast", nil, 28800, 20},
		{"fastest", nil, 43200, 30},
		{"an odd count", nil, 17143, 25},
		{"out of beat by a third", func(r *synth.Recording) { r.Movement.BeatError = r.Movement.Interval() / 3 }, 18000, 30},
		{"the other way", func(r *synth.Recording) { r.Movement.BeatError = -r.Movement.Interval() / 4 }, 14400, 30},
		{"exactly in beat", func(r *synth.Recording) { r.Movement.BeatError = 0 }, 21600, 30},
		{"tock 20 dB weaker", func(r *synth.Recording) { r.Sound.TockLevel = -20 }, 18000, 40},
		{"8 kHz", func(r *synth.Recording) { r.Recorder.SampleRate = 8000 }, 18000, 30},
		{"96 kHz", func(r *synth.Recording) { r.Recorder.SampleRate = 96000 }, 18000, 30},
		{"pink noise and hum", func(r *synth.Recording) { r.Room.Noise, r.Room.HumHz = "pink", 50 }, 18000, 25},
	}
	for i, c := range cases {
		if testing.Short() && i%4 != 1 {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := movement(c.bph, 33, c.snr)
			r.Recorder.SampleRate = 16000
			if c.vary != nil {
				c.vary(&r)
			}
			truth := r.Truth()
			all, report := run(t, r.Render(), Options{})
			if !report.Found || math.Abs(report.Period/(2*truth.Interval)-1) > 0.005 {
				t.Fatalf("period %.5f s, want %.5f s", report.Period, 2*truth.Interval)
			}
			seen := map[int]bool{}
			var offs [2][]float64
			for _, b := range all.Beats {
				if !b.Heard {
					continue
				}
				off, i := nearest(truth, b.Time)
				if math.Abs(off) > 0.1*truth.Interval+0.02 || seen[i] {
					t.Errorf("a beat at %.4f s was invented", b.Time)
				}
				seen[i] = true
				offs[b.Side] = append(offs[b.Side], off)
			}
			// The first and last beat may be cut by the recording's ends.
			if missing := len(truth.Beats) - len(seen); missing > 2 {
				t.Errorf("%d of %d beats were not heard", missing, len(truth.Beats))
			}
			for side, off := range offs {
				slices.Sort(off)
				if n := len(off); n > 10 && (off[n*84/100]-off[n*16/100])/2 > 30e-6 {
					t.Errorf("marks of the %ss scatter by %.1f µs", Side(side), 5e5*(off[n*84/100]-off[n*16/100]))
				}
			}
		})
	}
}

func TestStopAtTheEnd(t *testing.T) {
	r := movement(18000, 70, 40)
	r.Movement.Stop = 40
	all, _ := run(t, r.Render(), Options{})
	last := all.Beats[len(all.Beats)-1]
	if n := len(all.Events); n != 1 || all.Events[0].Kind != Stop || all.Events[0].End != 70 ||
		all.Events[0].Beat != last.Index || math.Abs(last.Time-40) > 0.4 {
		t.Errorf("events %+v after beat %+v, want one stop from 40 s to 70 s", all.Events, last)
	}
}

// choppy hands out frames a few at a time, as a pipe does.
type choppy struct {
	wavio.Source
	n int
}

func (c *choppy) Read(dst [][]float32) (int, error) {
	c.n = c.n%977 + 1
	part := slices.Clone(dst)
	for i, x := range dst {
		if x != nil {
			part[i] = x[:min(len(x), c.n)]
		}
	}
	return c.Source.Read(part)
}

// The same samples give the same results, however they arrive.
func TestResultsDoNotDependOnReads(t *testing.T) {
	r := movement(18000, 45, 30)
	a, _ := run(t, r.Render(), Options{})
	b, _ := run(t, &choppy{Source: r.Render()}, Options{})
	if !reflect.DeepEqual(a, b) {
		t.Error("results depend on how the samples arrive")
	}
}

func TestPicksTheChannel(t *testing.T) {
	r := movement(18000, 40, 40)
	r.Recorder.Channels, r.Recorder.Channel = 2, 2
	if _, report := run(t, r.Render(), Options{}); report.Channel != 2 {
		t.Errorf("channel %d, want 2", report.Channel)
	}
	if _, report := run(t, r.Render(), Options{Channel: 1}); report.Found {
		t.Error("a beat is claimed on the channel without one")
	}
}

// failing returns an error after some seconds of a good recording.
type failing struct {
	wavio.Source
	left int
}

func (f *failing) Read(dst [][]float32) (int, error) {
	if f.left <= 0 {
		return 0, errors.New("the disk is gone")
	}
	n, err := f.Source.Read(dst)
	f.left -= n
	return n, err
}

func TestErrorsPassThrough(t *testing.T) {
	for _, seconds := range []int{10, 50} {
		r := movement(18000, 60, 40)
		_, err := Follow(context.Background(), &failing{r.Render(), seconds * sampled}, Options{}, func(*Batch) error { return nil })
		if err == nil || err.Error() != "the disk is gone" {
			t.Errorf("after %d s: error %v", seconds, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Follow(ctx, movement(18000, 40, 40).Render(), Options{}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: error %v", err)
	}
	full := errors.New("the table is full")
	if _, err := Follow(context.Background(), movement(18000, 40, 40).Render(), Options{}, func(*Batch) error { return full }); !errors.Is(err, full) {
		t.Errorf("emit failed: error %v", err)
	}
}

func TestClips(t *testing.T) {
	r := movement(18000, 60, 40)
	r.Movement.Faults = []synth.Fault{{Kind: "late", Occasion: synth.Occasion{At: 30}, Size: 0.01}}
	var got []string
	run(t, r.Render(), Options{Clip: func(ev Event, x []float32, start float64) {
		got = append(got, fmt.Sprintf("%s %v", ev.Kind, start < ev.Start && start+float64(len(x))/sampled > ev.End))
	}})
	if !slices.Equal(got, []string{"late true"}) {
		t.Errorf("clips %v", got)
	}
}

func BenchmarkFollow(b *testing.B) {
	r := movement(18000, 600, 30)
	r.Recorder.SampleRate = 48000
	x := make([]float32, 600*48000)
	n, err := readFull(r.Render(), [][]float32{x}, len(x))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(4 * n))
	for b.Loop() {
		run(b, wavio.FromSamples(48000, x[:n]), Options{})
	}
}

// TestAudibleByAllSounds has the clearest sound of a side fade: its beats are still heard by all of
// them, but for a room that is far louder.
func TestAudibleByAllSounds(t *testing.T) {
	tr := begunOn(t, movement(18000, 40, 30)).tracker
	tr.run()
	loud := 100 * tr.louder()
	for v := range tr.snrs {
		tr.snrs[v] = running{}
		for range 10 {
			tr.snrs[v].add(audibleSNR - 1)
		}
		if !tr.audible(v) {
			t.Errorf("side %d is not heard, whose beats have a signal-to-noise ratio of %.1f", v, tr.wholeBeat(v).SNR())
		}
	}
	tr.room = running{}
	for range 10 {
		tr.room.add(tr.model.floor * loud * loud)
	}
	if tr.audible(0) {
		t.Errorf("heard in a room %.0f times as loud", loud)
	}
}

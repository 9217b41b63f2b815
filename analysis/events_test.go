package analysis

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// recordedAt is the sample rate of these recordings, Hz: what becomes of a fault does
// not depend on it, and how finely beats are timed is tested where they are.
const recordedAt = 8000

// recorded returns a recording of a movement of 18 000 beats an hour to vary.
func recorded(seconds, snr float64) synth.Recording {
	r := synth.Recording{Seed: 18000 + uint64(snr), Duration: seconds}
	r.Movement.BeatsPerHour = 18000
	r.Movement.BeatError = 0.0008
	r.Room.SNR = snr
	r.Recorder.SampleRate = recordedAt
	return r
}

// analysed returns the tables of a recording.
func analysed(t *testing.T, r synth.Recording) table {
	t.Helper()
	var sink table
	if _, err := Run(t.Context(), r.Render(), settings(), &sink); err != nil {
		t.Fatal(err)
	}
	return sink
}

// Where all sounds stand clear, beats are at mid-lift, and the lift time is that
// of the movement.
func TestBeatsAreAtMidLift(t *testing.T) {
	r := recorded(180, 40)
	r.Recorder.SampleRate = 48000
	truth := r.Truth()
	var sink table
	got, err := Run(t.Context(), r.Render(), settings(), &sink)
	if err != nil {
		t.Fatal(err)
	}
	if got.Beat.Mark != MidLift || len(sink.rows) < 290 {
		t.Fatalf("mark %q, %d beats", got.Beat.Mark, len(sink.rows))
	}
	i := 0
	for _, b := range sink.rows {
		for i+1 < len(truth.Beats) && truth.Beats[i+1].Elapsed < b.Time+0.1 {
			i++
		}
		if off := b.Time - truth.Beats[i].Elapsed; math.Abs(off) > 60e-6 {
			t.Errorf("%.0f µs off the passage through rest at %.3f s", 1e6*off, b.Time)
		}
	}
	if se := 1e-3 * float64(got.Summary.Amplitude.SE); se < got.Windows[0].Lift.SE/1.1 { // where the contacts are is one error
		t.Errorf("a mean lift time with an error of %.1f µs, each window's is %.1f µs", 1e6*se, 1e6*got.Windows[0].Lift.SE)
	}
	for _, w := range got.Windows {
		if want := truth.Beats[0].Lift; math.Abs(w.Lift.X-want) > 80e-6 {
			t.Errorf("lift time %.3f ms at %.1f s, want %.3f ms", 1e3*w.Lift.X, w.Start, 1e3*want)
		}
	}
}

// Faults of the movement and of the recorder, one after the other, those apart that hide
// beats or change their sound.
func TestEvents(t *testing.T) {
	at := func(s float64) synth.Occasion { return synth.Occasion{At: s} }
	type want struct {
		kind  beat.Kind
		start float64 // seconds
		shift float64 // seconds; NaN where it does not matter
		end   float64 // seconds after the start; NaN likewise
	}
	nan := math.NaN()
	cases := []struct {
		name    string
		seconds float64
		faults  []synth.Fault
		rec     []synth.RecorderFault
		room    []synth.RoomSound
		want    []want // empty where the count goes on, and nothing is taken for a hesitation
	}{
		{"dead channel", 75, nil, []synth.RecorderFault{{Kind: "dead", Occasion: at(40), For: 20}}, nil, nil},
		{"a movement's faults, and zeros", 125, []synth.Fault{
			{Kind: "late", Occasion: at(40), Size: 0.003},
			{Kind: "late", Occasion: at(48), Size: 0.25},
			{Kind: "early", Occasion: at(56), Size: 0.004},
			{Kind: "missed", Occasion: at(64)},
			{Kind: "missed", Occasion: at(72), Beats: 4},
			{Kind: "extra", Occasion: at(80)},
			{Kind: "stop", Occasion: at(90), Size: 12.34},
		}, []synth.RecorderFault{{Kind: "zeros", Occasion: at(115), For: 1.5}}, nil, []want{
			{beat.Late, 40, 0.003, nan},
			{beat.Late, 48, 0.25, nan},
			{beat.Early, 56, -0.004, nan},
			{beat.Missed, 64, 0, nan},
			{beat.Missed, 72, 0, nan},
			{beat.Extra, 80, nan, nan},
			{beat.Stop, 90, 12.34, 12.5},
			{beat.Gap, 115, 0, 1.5},
		}},
		{"a slammed door, a lorry, and the microphone moved", 120, nil,
			[]synth.RecorderFault{{Kind: "moved", Occasion: at(85), Level: -6}},
			[]synth.RoomSound{{Kind: "slam", Occasion: at(40), Level: 10}, {Kind: "lorry", Occasion: at(55), Level: 10}}, nil},
		{"gain down by 30 dB", 75, nil, []synth.RecorderFault{{Kind: "gain", Occasion: at(40), Level: -30}}, nil, nil},
	}
	for i, c := range cases {
		if testing.Short() && i != 1 {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := recorded(c.seconds, 45)
			r.Recorder.PeakLevel = -20
			r.Movement.Faults, r.Recorder.Faults, r.Room.Sounds = c.faults, c.rec, c.room
			truth := r.Truth()
			all := analysed(t, r)
			if last := all.rows[len(all.rows)-1]; last.Index+1 != int64(len(all.rows)) || int(math.Abs(float64(len(truth.Beats)-len(all.rows)))) > 1 {
				t.Errorf("%d beats, the last numbered %d, of %d", len(all.rows), last.Index, len(truth.Beats))
			}
			for i, b := range all.rows {
				if b.Heard && i > 0 && b.Time <= all.rows[i-1].Time {
					t.Errorf("beat %d comes before the one before it", b.Index)
				}
			}
			if c.want == nil {
				for _, e := range all.events {
					if e.Kind == beat.Late || e.Kind == beat.Early || e.Kind == beat.Stop {
						t.Errorf("%+v", e)
					}
				}
				return
			}
			if len(all.events) != len(c.want) {
				t.Fatalf("events %+v, want %v", all.events, c.want)
			}
			for i, w := range c.want {
				e := all.events[i]
				if e.Kind != w.kind || math.Abs(e.Start-w.start) > 0.6 {
					t.Errorf("%+v, want %v at %g s", e, w.kind, w.start)
				}
				if math.Abs(e.Shift-w.shift) > 0.0005 && (w.kind != beat.Stop || math.Abs(e.Shift-w.shift) > 0.4) {
					t.Errorf("%s: shift %.5f s, want %.5f s", e.Kind, e.Shift, w.shift)
				}
				if math.Abs(e.End-w.start-w.end) > 0.45 {
					t.Errorf("%s: ends at %.3f s, want %.3f s", e.Kind, e.End, w.start+w.end)
				}
			}
		})
	}
}

// drowning is a recording whose room is louder, by so much RMS, from one second to
// another.
type drowning struct {
	wavio.Source
	from, to, rms float64
	frame         int
	rng           *rand.Rand
}

func (d *drowning) Read(dst [][]float32) (int, error) {
	n, err := d.Source.Read(dst)
	for i := range n {
		if s := float64(d.frame+i) / recordedAt; s >= d.from && s < d.to {
			dst[0][i] = float32(math.Max(-1, math.Min(1, float64(dst[0][i])+d.rms*d.rng.NormFloat64())))
		}
	}
	d.frame += n
	return n, err
}

// TestALoudRoom hides the beats for a while, by a room that is suddenly louder and
// suddenly quiet again: they are masked there, and nothing else happened.
func TestALoudRoom(t *testing.T) {
	for _, c := range []struct{ seconds, from, to, rms float64 }{
		{80, 40, 80, 0.4}, {120, 60, 100, 0.3}, {120, 60, 100, 0.4}, {80, 30, 70, 0.3},
	} {
		var sink table
		got, err := Run(t.Context(), &drowning{Source: recorded(c.seconds, 25).Render(), from: c.from, to: c.to, rms: c.rms, rng: rand.New(rand.NewPCG(1, 9))}, settings(), &sink)
		if err != nil {
			t.Fatal(err)
		}
		var hidden float64
		for _, e := range sink.events {
			if hidden += e.End - e.Start; e.Kind != beat.Masked || e.Start < c.from || e.End > c.to+0.5 {
				t.Errorf("%+v: %+v", c, e)
			}
		}
		if hidden < 0.85*(c.to-c.from) || math.Abs(float64(got.Rate.Mean)) > 4*float64(got.Rate.SE) {
			t.Errorf("%+v: masked for %.1f s, rate %.3f ± %.3f s/day", c, hidden, float64(got.Rate.Mean), float64(got.Rate.SE))
		}
	}
}

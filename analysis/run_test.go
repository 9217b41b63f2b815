package analysis

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/contacts/contactstest"
	"rundown/analysis/rate"
	"rundown/analysis/train"
	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// table is a Sink that keeps everything.
type table struct {
	rows   []Row
	events []beat.Event
	fault  error // returned by Beats
}

func (s *table) Beats(rows []Row) error {
	s.rows = append(s.rows, rows...)
	return s.fault
}

func (s *table) Events(events []beat.Event) error {
	s.events = append(s.events, events...)
	return nil
}

// sampling is the rate of recordings whose beats come from a script, Hz.
const sampling = 16000

// silence is the Source of such a run.
func silence() wavio.Source { return wavio.FromSamples(sampling, []float32{}) }

// beatSounds are those of a scripted movement's beats, which it marks by the drop.
func beatSounds(m synth.Movement) *contactstest.Scene {
	side := []contactstest.Contact{{At: 0, Level: 24, Modes: contactstest.Dull}, {At: 0.3, Level: 27, Modes: contactstest.Hollow}, {At: 1, Level: 34, Modes: contactstest.Bright}}
	return &contactstest.Scene{
		Seed: 8, Rate: sampling, Period: 2 * m.Interval(),
		Sides: [2][]contactstest.Contact{side, side}, Marks: [2]int{2, 2}, Blur: 2e-6,
	}
}

// scripted is a follower that has heard a movement for the given number of
// seconds of the recorder's time, in batches of the given size. The movement's
// beats are in true seconds.
func scripted(m synth.Movement, seconds float64, size int) follower {
	return func(_ context.Context, src wavio.Source, opt beat.Options, emit func(*beat.Batch) error) (beat.Report, error) {
		scene := beatSounds(m)
		stacks := scene.Layer()
		report := beat.Report{
			Found: true, Channel: 1, Frames: int64(seconds * sampling), Period: 2 * m.Interval(),
			Sounds: []beat.Sounds{{Stacks: stacks.Stacker, Room: scene.Room()}},
		}
		frames := sampling / opt.Clock(sampling) // of the recorder in a true second
		var batch beat.Batch
		late := 0.0
		for b := range m.Beats(7, opt.Clock(seconds*sampling)) {
			at := b.Time + b.Lift/2
			if shift := math.Round((b.Time-b.Steady-late)*1e3) / 1e3; shift > 1e-3 && opt.Clip != nil { // beat error and jitter are less
				late += shift
				opt.Clip(beat.Event{Kind: beat.Late, Beat: b.Index, Start: at, End: at, Shift: shift}, make([]float32, 100), b.Time-0.01)
			}
			batch.Beats = append(batch.Beats, beat.Beat{Index: b.Index, Time: at, SE: 2e-6, Level: -30, Side: beat.Side(b.Index & 1), Heard: true})
			if b.Index%8 < 2 { // some are enough
				stacks.Lay(int(b.Index&1), at*frames, b.Lift)
			}
			if len(batch.Beats) == size {
				if err := emit(&batch); err != nil {
					return report, err
				}
				batch.Reset()
			}
		}
		return report, emit(&batch)
	}
}

// movement gains 12 seconds a day, is out of beat by 0.8 ms, and hesitates once.
var movement = synth.Movement{
	BeatsPerHour: 18000, Rate: 12, BeatError: 0.8e-3, LiftAngle: 52, Jitter: 20e-6,
	Faults: []synth.Fault{{Kind: "late", Occasion: synth.Occasion{At: 500}, Size: 40e-3}},
}

func settings() Options {
	return Options{Paths: []string{"night.wav"}, Window: 60, Tolerance: 10, Clips: 3}
}

func near(t *testing.T, name string, got Number, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= tolerance) {
		t.Errorf("%s = %v, want %v ± %v", name, got, want, tolerance)
	}
}

// TestRunWithAWrongLiftAngle expects no amplitude that no oscillator reaches,
// and to be told why.
func TestRunWithAWrongLiftAngle(t *testing.T) {
	opt := settings()
	opt.LiftAngle = 100 // of 52°: 280° becomes 538°
	r, err := run(t.Context(), silence(), opt, &table{}, scripted(movement, 610, 100))
	if err != nil {
		t.Fatal(err)
	}
	if r.AmplitudeKind != rate.Level || r.Summary.Amplitude.Kind != string(rate.Level) || r.Beat.Mark != Clearest {
		t.Errorf("amplitude in %s, %v, mark %q", r.AmplitudeKind, r.Summary.Amplitude, r.Beat.Mark)
	}
	if p := r.Recording.Problems; len(p) != 1 || !strings.Contains(p[0], "no oscillator reaches") || !strings.Contains(p[0], "the lift angle is too large") {
		t.Errorf("problems: %q", p)
	}
}

func TestRunSummary(t *testing.T) {
	going, err := train.Parse("going.toml", []byte(synth.DemoTrain))
	if err != nil {
		t.Fatal(err)
	}
	opt := settings()
	opt.Train, opt.LiftAngle = going, 52
	var sink table
	r, err := run(t.Context(), silence(), opt, &sink, scripted(movement, 1210, 100))
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != OK || r.HeardInstead != "" || r.Schema != 1 {
		t.Errorf("status %q, heard %q, schema %d", r.Status, r.HeardInstead, r.Schema)
	}
	if r.Beat.Source != rate.FromTrain || r.Beat.Nominal != 18000 || r.Beat.Mark != MidLift {
		t.Errorf("beat: %+v", r.Beat)
	}
	near(t, "rate", r.Rate.Mean, 12, 4*float64(r.Rate.SE))
	near(t, "lost", r.Rate.Lost, 40e-3, 20e-6)
	near(t, "beat error, ms", r.BeatError.Mean, 0.8, 4*float64(r.BeatError.SE))
	near(t, "amplitude, degrees", r.Summary.Amplitude.Mean, 280, float64(r.Summary.Amplitude.SE)/2)
	near(t, "jitter", r.Beat.Jitter, 20e-6, 1e-6)
	near(t, "period", r.Beat.Period, 0.4/(1+12.0/86400), 1e-8)
	near(t, "measured", r.Beat.Measured, 18000*(1+12.0/86400), 1e-3)
	near(t, "duration", r.Recording.Duration, 1210, 1e-9)
	if !r.StableBand.Found || r.Band == nil || r.StableBand.Start != 0 || r.StableBand.End != 1200 {
		t.Errorf("stable band: %+v", r.StableBand)
	}
	// The barrel turns once in 8 hours: 144 000 beats.
	near(t, "turns", r.Barrel.Turns, float64(r.Beat.Counted)/144000, 1e-12)
	near(t, "turn", r.Barrel.Turn, 8*3600/(1+12.0/86400), 0.01)
	near(t, "turns at the end of the band", r.Barrel.BandEnd, 1200*5.0/144000, 1e-4)
	if r.Events[beat.Late] != 1 || len(r.Events) != len(beat.Kinds) {
		t.Errorf("events: %v", r.Events)
	}
	if len(r.Clips) != 1 || r.Clips[0].Event.Kind != beat.Late {
		t.Errorf("clips: %+v", r.Clips)
	}
	if r.Recording.Problems == nil || r.Recurrences == nil || r.Summary.Clips == nil {
		t.Error("a list of the summary is nil, which JSON shows as null")
	}
	if len(r.Windows) != 21 || r.Windows[20].End != 1210 {
		t.Errorf("%d windows, the last %+v", len(r.Windows), r.Windows[len(r.Windows)-1])
	}
}

func TestRunStreamsEveryBeat(t *testing.T) {
	movement := movement
	movement.Faults = []synth.Fault{{Kind: "late", Occasion: synth.Occasion{At: 200}, Size: 40e-3}}
	var whole table
	if _, err := run(t.Context(), silence(), settings(), &whole, scripted(movement, 310, 1<<20)); err != nil {
		t.Fatal(err)
	}
	for i, row := range whole.rows {
		if row.Index != int64(i) {
			t.Fatalf("row %d is of beat %d", i, row.Index)
		}
		if i == 0 != math.IsNaN(row.Interval) || i > 0 && row.Interval != row.Time-whole.rows[i-1].Time {
			t.Fatalf("interval of beat %d: %v", i, row.Interval)
		}
		if !(math.Abs(row.Residual) < 6*20e-6) {
			t.Fatalf("residual of beat %d: %v", i, row.Residual)
		}
	}
	if n := len(whole.rows); n < 1545 || n > 1555 {
		t.Errorf("%d rows, want about 1 550", n)
	}
	// The size of the batches changes nothing.
	for _, size := range []int{1, 7, 299} {
		var parts table
		if _, err := run(t.Context(), silence(), settings(), &parts, scripted(movement, 310, size)); err != nil {
			t.Fatal(err)
		}
		same := slices.EqualFunc(parts.rows, whole.rows, func(a, b Row) bool {
			return a.Beat == b.Beat && a.Residual == b.Residual
		})
		if !same || !slices.Equal(parts.events, whole.events) {
			t.Errorf("batches of %d give other tables", size)
		}
	}
}

// A clock that runs fast by 100 ppm takes more frames in a true second: the run
// is shorter than its frames say.
func TestRunCorrectsTheClock(t *testing.T) {
	opt := settings()
	opt.ClockPPM, opt.ClockVerified = 100, true
	r, err := run(t.Context(), silence(), opt, new(table), scripted(movement, 600, 100))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "duration", r.Recording.Duration, 600/1.0001, 1e-9)
	if !r.Recording.ClockVerified || r.Recording.ClockPPM != 100 {
		t.Errorf("recording: %+v", r.Recording)
	}
}

func TestRunNominal(t *testing.T) {
	cases := []struct {
		flag, beats float64
		want        float64
		source      rate.NominalSource
	}{
		{18001, 18000, 18001, rate.FromFlag},
		{0, 18000, 18000, rate.FromCustom},
		{0, 5555, 0, rate.FromMeasured}, // not near a customary count
	}
	for _, c := range cases {
		m, opt := movement, settings()
		m.BeatsPerHour, opt.Nominal = c.beats, c.flag
		r, err := run(t.Context(), silence(), opt, new(table), scripted(m, 600, 100))
		if err != nil {
			t.Fatal(err)
		}
		if r.Beat.Source != c.source || c.want > 0 && r.Beat.Nominal != Number(c.want) {
			t.Errorf("%+v: nominal %v from %q", c, r.Beat.Nominal, r.Beat.Source)
		}
		if c.source == rate.FromMeasured {
			near(t, "rate against itself", r.Rate.Mean, 0, 1e-6)
		}
	}
}

func TestRunWithoutBeat(t *testing.T) {
	opt := settings()
	opt.Nominal = 18000
	nothing := func(context.Context, wavio.Source, beat.Options, func(*beat.Batch) error) (beat.Report, error) {
		return beat.Report{Frames: 90 * sampling, Heard: "Nothing but hum was heard.", Problems: []string{"It hums."}}, nil
	}
	r, err := run(t.Context(), silence(), opt, new(table), nothing)
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != NoBeat || r.HeardInstead != "Nothing but hum was heard." || r.Beat.Nominal != 18000 || r.Beat.Source != rate.FromFlag {
		t.Errorf("%+v", r.Summary)
	}
	for name, x := range map[string]Number{"rate": r.Rate.Mean, "period": r.Beat.Period, "band": r.StableBand.Start, "amplitude": r.Summary.Amplitude.Mean} {
		if x.Known() {
			t.Errorf("%s = %v where there is no beat", name, x)
		}
	}
	if len(r.Windows) != 2 || r.Windows[1].End != 90 || r.Windows[0].Beats != 0 {
		t.Errorf("windows: %+v", r.Windows)
	}
	if !slices.Equal(r.Recording.Problems, []string{"It hums."}) {
		t.Errorf("problems: %q", r.Recording.Problems)
	}
}

// Four beats make no line, so there is no rate, whatever the follower thinks.
func TestRunWithTooFewBeats(t *testing.T) {
	r, err := run(t.Context(), silence(), settings(), new(table), scripted(movement, 0.9, 100))
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != NoBeat || r.HeardInstead == "" || r.Rate.Mean.Known() {
		t.Errorf("%+v", r.Summary)
	}
}

func TestRunPassesErrorsOn(t *testing.T) {
	full := errors.New("full")
	for name, seconds := range map[string]float64{"in a batch": 300, "in the last window": 30} {
		if _, err := run(t.Context(), silence(), settings(), &table{fault: full}, scripted(movement, seconds, 100)); err != full {
			t.Errorf("%s: %v, want the sink's error", name, err)
		}
	}
	broken := func(context.Context, wavio.Source, beat.Options, func(*beat.Batch) error) (beat.Report, error) {
		return beat.Report{}, full
	}
	if _, err := run(t.Context(), silence(), settings(), new(table), broken); err != full {
		t.Errorf("%v, want the follower's error", err)
	}
}

// A night of 18 000 beats an hour, without the listening.
func BenchmarkRun(b *testing.B) {
	var beats []beat.Beat
	for i := range int64(144000) {
		beats = append(beats, beat.Beat{Index: i, Time: 0.2*float64(i) + 1e-5*math.Sin(float64(i*i)), Level: -30, Side: beat.Side(i & 1), Heard: true})
	}
	night := func(_ context.Context, _ wavio.Source, _ beat.Options, emit func(*beat.Batch) error) (beat.Report, error) {
		return beat.Report{Found: true, Frames: 8 * 3600 * sampling}, emit(&beat.Batch{Beats: beats})
	}
	for b.Loop() {
		if _, err := run(b.Context(), silence(), settings(), discard{}, night); err != nil {
			b.Fatal(err)
		}
	}
}

type discard struct{}

func (discard) Beats([]Row) error         { return nil }
func (discard) Events([]beat.Event) error { return nil }

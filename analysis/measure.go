package analysis

import (
	"fmt"
	"math"

	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/analysis/train"
	"rundown/dsp/wavio"
)

// newSummary returns the summary of a recording in which there is no beat.
func newSummary(opt Options, f wavio.Format, r beat.Report, duration float64) Summary {
	s := Summary{
		Schema: Schema, Status: NoBeat, HeardInstead: r.Heard, Notes: opt.Notes,
		Recording: Recording{
			Paths: opt.Paths, SampleRate: f.SampleRate, Channels: f.Channels, Channel: r.Channel, BitsPerSample: f.BitsPerSample,
			Duration: Number(duration), ClockPPM: Number(opt.ClockPPM), ClockVerified: opt.ClockVerified, ClockSE: None(),
		},
		Beat:        Beat{Nominal: None(), Measured: None(), Period: None(), Jitter: None(), First: None(), Last: None(), CountOdds: None()},
		Rate:        Rate{Mean: None(), SE: None(), First: None(), FirstSE: None(), Last: None(), LastSE: None(), Spread: None(), ClockSE: None(), Lost: None()},
		BeatError:   BeatError{Mean: None(), SE: None()},
		Amplitude:   Amplitude{Kind: string(rate.Level), Mean: None(), SE: None(), First: None(), Last: None()},
		StableBand:  StableBand{Tolerance: Number(opt.Tolerance), Start: None(), End: None(), Mean: None(), SE: None(), ClockSE: None(), Spread: None()},
		Events:      map[beat.Kind]int{},
		Recurrences: []Recurrence{},
		Clips:       []ClipFile{},
	}
	if n, source := rate.Nominal(opt.Nominal, opt.trainPerHour(), math.NaN()); !math.IsNaN(n) {
		s.Beat.Nominal, s.Beat.Source = Number(n), source
	}
	return s
}

// trainPerHour is the count that the train fixes, 0 where it fixes none.
func (o *Options) trainPerHour() float64 {
	if o.Train == nil {
		return 0
	}
	return o.Train.BeatsPerHour()
}

// nominal is the number of beats an hour that was given, 0 where none was.
func (o *Options) nominal() float64 {
	if o.Nominal > 0 {
		return o.Nominal
	}
	return o.trainPerHour()
}

// measure fills in the figures of a run with a beat, whose count has odds of so
// many powers of ten.
func (r *Result) measure(opt Options, p *pipeline, told *story, odds float64) {
	run := p.rate.Finish(r.Windows, rate.Settings{BeatsPerHour: opt.Nominal, TrainPerHour: opt.trainPerHour(), LiftAngle: opt.LiftAngle, Marks: told.marks})
	if math.IsNaN(run.Period.X) {
		r.HeardInstead = "A beat was heard, but too little of it for a rate."
		return
	}
	mark, doubts := told.mark()
	for _, m := range told.marks {
		r.Sounds = append(r.Sounds, m.Reading.Portraits...)
		r.Doubt = m.Reading.Doubt
	}
	r.Recording.Problems = append(r.Recording.Problems, doubts...)
	run.Jitter = told.jitter
	r.Status, r.HeardInstead = OK, ""
	r.LastHeard = p.lastHeard
	r.Beat = Beat{
		Nominal: Number(run.NominalPerHour), Source: run.NominalSource,
		Measured: Number(7200 / run.Period.X), Period: Number(run.Period.X), Jitter: Number(run.Jitter),
		Counted: run.Counted, Heard: run.Heard, First: Number(p.first), Last: Number(p.last), Mark: mark, CountOdds: Number(odds),
	}
	ending := p.ending.finish(p.lastBeat, p.last, p.heardAt)
	r.Ending = &ending
	r.Rate = Rate{
		Mean: Number(run.Rate.X), SE: Number(run.Rate.SE),
		First: Number(run.First.X), FirstSE: Number(run.First.SE), Last: Number(run.Last.X), LastSE: Number(run.Last.SE),
		Spread: Number(run.Spread), Lost: Number(run.Lost),
	}
	r.BeatError = BeatError{Mean: Number(1e3 * run.BeatError.X), SE: Number(1e3 * run.BeatError.SE)}
	r.amplitude(run, opt.LiftAngle)
	r.band(opt.Tolerance)
	r.barrel(opt.Train, run)
	r.stability(opt, p.rate.Phase(), run.Jitter)
	r.recurrences(opt.Train)
}

// amplitude fills in the amplitude, lift times in milliseconds.
func (r *Result) amplitude(run rate.Run, liftAngle float64) {
	r.AmplitudeKind = run.AmplitudeKind
	if s := run.ShortLift; s.Windows > 0 {
		r.Recording.Problems = append(r.Recording.Problems, shortLiftProblem(s, run.AmplitudeKind, liftAngle))
	}
	scale := 1.0
	if run.AmplitudeKind == rate.LiftTime {
		scale = 1e3
	}
	n, sum, variance := 0.0, 0.0, 0.0
	for _, w := range r.Windows {
		if !math.IsNaN(w.Amplitude.X) {
			n++
			sum += w.Amplitude.SE
			variance += w.Amplitude.SE * w.Amplitude.SE
		}
	}
	se := sum / n // where the contacts are that bound the lift is one error, which all windows share
	if run.AmplitudeKind == rate.Level {
		se = math.Sqrt(variance) / n
	}
	r.Summary.Amplitude = Amplitude{
		Kind: string(run.AmplitudeKind), Mean: Number(scale * run.Amplitude), SE: Number(scale * se),
		First: Number(scale * run.FirstAmplitude), Last: Number(scale * run.LastAmplitude),
	}
}

// shortLiftProblem says why windows have no amplitude in degrees, one sentence.
func shortLiftProblem(s rate.ShortLift, kind rate.AmplitudeKind, liftAngle float64) string {
	where, there := "", ""
	if s.Windows < s.All {
		where = fmt.Sprintf("in %d of %d windows ", s.Windows, s.All)
	}
	if kind == rate.Degrees {
		there = " there"
	}
	return fmt.Sprintf("The lift time found %sis too short for a lift angle of %g°: %.3g ms would be an amplitude of %.0f°, which no oscillator reaches, "+
		"so it is not given in degrees%s; check --lift-angle, or else the first or the last sound of the beats was not heard.",
		where, liftAngle, 1e3*s.Time, s.Amplitude, there)
}

// band finds the stable band.
func (r *Result) band(tolerance float64) {
	b, ok := rate.StableBand(r.Windows, tolerance)
	if !ok {
		r.StableBand.TooShort = rate.TooShort(r.Windows)
		return
	}
	r.Band = &b
	r.StableBand = StableBand{
		Found: true, Tolerance: Number(tolerance), Start: Number(b.Start), End: Number(b.End),
		Mean: Number(b.Mean.X), SE: Number(b.Mean.SE), Spread: Number(b.Spread),
	}
}

// barrel counts the run in turns of the arbor at which the power comes in.
func (r *Result) barrel(t *train.Train, run rate.Run) {
	if t == nil || !t.Barrel() {
		return
	}
	perTurn, _ := t.BeatsPerTurn(0).Float64()
	turns := func(windows []rate.Window) Number {
		beats := 0
		for _, w := range windows {
			beats += w.Beats
		}
		return Number(float64(beats) / perTurn)
	}
	r.Barrel = &Barrel{
		Name: t.Arbors[0].Name, Turn: Number(perTurn * run.Period.X / 2), Turns: turns(r.Windows),
		BandStart: None(), BandEnd: None(),
	}
	if b := r.Band; b != nil {
		r.Barrel.BandStart, r.Barrel.BandEnd = turns(r.Windows[:b.First]), turns(r.Windows[:b.Last])
	}
}

// recurrences finds what comes round again.
func (r *Result) recurrences(t *train.Train) {
	r.Found = r.Faults.Recurrences(t)
	for _, f := range r.Found {
		r.Recurrences = append(r.Recurrences, newRecurrence(f))
	}
}

func newRecurrence(f fault.Recurrence) Recurrence {
	return Recurrence{
		Kind: f.Kind, PeriodBeats: Number(f.PeriodBeats), PhaseBeats: Number(f.PhaseBeats),
		Occurrences: f.Occurrences, Opportunities: f.Opportunities,
		Size: Number(1e3 * f.Size), PValue: Number(f.PValue), Match: f.Match, Note: f.Note,
	}
}

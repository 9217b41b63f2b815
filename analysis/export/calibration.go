package export

import (
	"fmt"
	"io"
	"math"
	"path/filepath"

	"rundown/analysis"
	"rundown/analysis/calibrate"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// Calibration is what a reference says of a recorder's clock, and where it was
// heard.
type Calibration struct {
	Path     string // of the recording, for names alone
	Channel  int    // that carries the reference, from 1
	Channels int
	Series   *calibrate.Series
	Error    calibrate.Error
	Problems []string // with the recording, whole sentences
}

// CalibrationText writes a calibration for a person to read.
func CalibrationText(w io.Writer, c *Calibration) error {
	var p page
	s, e := c.Series, &c.Error
	where := ""
	if c.Channels > 1 {
		where = fmt.Sprintf(", channel %d of %d", c.Channel, c.Channels)
	}
	name := "standard input"
	if c.Path != "-" {
		name = wavio.OneLine(filepath.Base(c.Path))
	}
	fmt.Fprintf(&p, "%s, %s%s\n\n", name, prose.Span(c.duration()), where)
	p.line("Reference", prose.Reference(s))
	p.line("Clock", prose.ClockError(e))
	p.line("Drift", prose.SignedWithError(analysis.Number(e.Drift.X), analysis.Number(e.Drift.SE), "ppm an hour"))
	p.line("Scatter", prose.ReferenceScatter(e))
	p.line("Time", prose.ReferenceTime(e))
	for _, l := range s.Lost() {
		p.line("Lost", prose.LostSpan(l))
	}
	for _, problem := range c.Problems {
		p.line("Problem", problem)
	}
	p.line("Beware", "the error of the reference itself comes on top: a quartz clock that gains a second in 12 days is 1\u00a0ppm out. "+
		"Where you know its true frequency, give that as --hz")
	fmt.Fprintf(&p, "%-*s%s\n", labelWidth, "Use", c.use())
	_, err := io.WriteString(w, prose.Terminal(p.String()))
	return err
}

// use is the command that corrects a run by the calibration.
func (c *Calibration) use() string {
	decimals := min(max(1-int(math.Floor(math.Log10(max(c.Error.PPM.SE, 1e-4)))), 0), 4)
	return fmt.Sprintf("rundown analyse --clock-ppm %.*f --clock-error %.*f RECORDING",
		decimals, c.Error.PPM.X, decimals, max(c.Error.PPM.SE, math.Pow10(-decimals)))
}

func (c *Calibration) duration() analysis.Number {
	return analysis.Number(float64(c.Series.Frames) / c.Series.SampleRate / (1 + 1e-6*c.Error.PPM.X))
}

// calibrationFields is the layout of a calibration in JSON.
type calibrationFields struct {
	Schema     int             `json:"schema"`
	Recording  string          `json:"recording"`
	SampleRate float64         `json:"sample_rate_hz"`
	Channel    int             `json:"channel"`
	Duration   analysis.Number `json:"duration_s"` // true seconds
	Hz         float64         `json:"reference_hz"`
	Kind       string          `json:"reference_kind"` // "tick" or "tone"
	Heard      int64           `json:"heard"`          // ticks, or seconds of tone
	Expected   int64           `json:"expected"`
	PPM        analysis.Number `json:"clock_ppm"` // positive when the recorder's clock runs fast
	SE         analysis.Number `json:"clock_standard_error_ppm"`
	Drift      analysis.Number `json:"drift_ppm_per_hour"`
	DriftSE    analysis.Number `json:"drift_standard_error_ppm_per_hour"`
	Scatter    analysis.Number `json:"scatter_s"` // of single marks
	Time1      analysis.Number `json:"seconds_for_1_ppm"`
	Time01     analysis.Number `json:"seconds_for_0_1_ppm"`
	Lost       []spanFields    `json:"lost"`
	Problems   []string        `json:"problems"`
	Use        string          `json:"use"`
}

// spanFields is a stretch of the recorder's time.
type spanFields struct {
	Start analysis.Number `json:"start_s"`
	End   analysis.Number `json:"end_s"`
}

// CalibrationJSON writes a calibration as indented JSON with a final newline.
func CalibrationJSON(w io.Writer, c *Calibration) error {
	s, e := c.Series, &c.Error
	f := calibrationFields{
		Schema: 1, Recording: c.Path, SampleRate: s.SampleRate, Channel: c.Channel, Duration: c.duration(), Hz: s.Hz,
		Kind: "tick", Heard: s.Heard, Expected: s.Expected,
		PPM: analysis.Number(e.PPM.X), SE: analysis.Number(e.PPM.SE), Drift: analysis.Number(e.Drift.X), DriftSE: analysis.Number(e.Drift.SE),
		Scatter: analysis.Number(e.Scatter), Time1: analysis.Number(e.Time(1)), Time01: analysis.Number(e.Time(0.1)),
		Lost: []spanFields{}, Problems: append([]string{}, c.Problems...), Use: c.use(),
	}
	if s.Tone {
		f.Kind = "tone"
	}
	for _, l := range s.Lost() {
		f.Lost = append(f.Lost, spanFields{analysis.Number(l.Start), analysis.Number(l.End)})
	}
	return analysis.WriteJSON(w, f)
}

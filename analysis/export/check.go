package export

import (
	"fmt"
	"io"

	"rundown/analysis"
	"rundown/analysis/fitness"
	"rundown/analysis/prose"
)

// CheckText writes the verdict on a set-up for a person to read, under a title;
// picture is the file with the sound of a beat, empty where there is none.
func CheckText(w io.Writer, r *fitness.Report, title, picture string) error {
	var p page
	fmt.Fprintf(&p, "%s, %s\n\n", title, prose.Span(r.Duration))
	p.paragraph(prose.Verdict(r))
	p.WriteByte('\n')
	for i, reason := range r.Reasons {
		label := "Then"
		if i == 0 {
			label = "First"
		}
		p.line(label, prose.Remedy(reason)+" Because "+prose.What(reason)+".")
	}
	for _, reason := range r.Advice {
		p.line("Better", prose.Remedy(reason)+" Because "+prose.What(reason)+", though nothing is lost by it.")
	}
	p.line("Beat", prose.HeardBeat(r))
	p.line("Loudness", prose.Loudness(r))
	if r.PerHour.Known() {
		p.line("Contacts", prose.Contacts(r))
	}
	p.line("A night", prose.Night(r))
	for _, c := range r.Silent {
		p.line("Beware", fmt.Sprintf("channel %d is silent", c))
	}
	if picture != "" {
		fmt.Fprintf(&p, "%-*s%s\n", labelWidth, "Picture", picture)
	}
	_, err := io.WriteString(w, prose.Terminal(p.String()))
	return err
}

// checkFields is the layout of a verdict in JSON.
type checkFields struct {
	Verdict string           `json:"verdict"` // "fit" or "unfit"
	Reasons []fitness.Reason `json:"reasons"`
	Advice  []fitness.Reason `json:"advice"` // what would be better changed, though it is fit
	Beat    struct {
		PerHour   analysis.Number `json:"per_hour"`
		CountOdds analysis.Number `json:"count_odds"` // log10 of the odds against the next best count
	} `json:"beat"`
	SNR struct {
		Tick analysis.Number `json:"tick"`
		Tock analysis.Number `json:"tock"`
	} `json:"snr_db"`
	Lift struct {
		Told bool            `json:"told"`
		Lift analysis.Number `json:"lift_ms"`
	} `json:"lift"`
	Forecast struct {
		Minute  analysis.Number `json:"rate_se_one_minute_s_per_day"`
		Hours   analysis.Number `json:"rate_se_eight_hours_s_per_day"`
		Least   analysis.Number `json:"least_shift_ms"`
		Degrees bool            `json:"degrees"`
	} `json:"forecast"`
}

// CheckJSON writes the verdict on a set-up as indented JSON with a final newline.
func CheckJSON(w io.Writer, r *fitness.Report) error {
	f := checkFields{Verdict: "fit", Reasons: append([]fitness.Reason{}, r.Reasons...), Advice: append([]fitness.Reason{}, r.Advice...)}
	if !r.Fit() {
		f.Verdict = "unfit"
	}
	f.Beat.PerHour, f.Beat.CountOdds = r.PerHour, r.CountOdds
	f.SNR.Tick, f.SNR.Tock = r.SNR[0], r.SNR[1]
	f.Lift.Told, f.Lift.Lift = r.LiftTold, r.Lift
	f.Forecast.Minute, f.Forecast.Hours = r.Forecast.Minute, r.Forecast.Hours
	f.Forecast.Least, f.Forecast.Degrees = r.Forecast.Least, r.Forecast.Degrees
	return analysis.WriteJSON(w, f)
}

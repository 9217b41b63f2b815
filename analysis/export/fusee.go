package export

import (
	"fmt"
	"io"
	"math"
	"strings"

	"rundown/analysis"
	"rundown/analysis/fusee"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// FuseeProfile writes the table of a groove for the lathe, from the large end: radii are
// those of the chain's middle line. Where lengths are shown in inches, two columns more
// have them so.
func FuseeProfile(w io.Writer, f *fusee.Fusee, units fusee.Units) error {
	columns := []string{"turn", "axial_mm", "radius_mm"}
	if units.Inches {
		columns = append(columns, "axial_in", "radius_in")
	}
	t := newTable(w, columns...)
	for _, r := range f.Rows {
		t.number(r.Turn, 4)
		t.number(r.Axial, 4)
		t.number(r.Radius, 4)
		if units.Inches {
			t.number(units.Length(r.Axial), 5)
			t.number(units.Length(r.Radius), 5)
		}
		t.end()
	}
	return t.err
}

// StopWork writes the table of stop-work: turns are those unwound from full wind. Fields
// are empty where no run tells.
func StopWork(w io.Writer, list []fusee.Kept) error {
	t := newTable(w, "turns_kept", "torque_from_turns", "torque_to_turns", "torque_spread_percent", "rate_from_turns", "rate_to_turns",
		"rate_spread_s_per_day", "mean_rate_s_per_day", "mean_rate_se_s_per_day", "gained_in_a_day_s", "gained_in_a_day_se_s", "goes_hours")
	for _, k := range list {
		byRate := fusee.Stretch{From: math.NaN(), To: math.NaN(), Spread: math.NaN()}
		if k.ByRate != nil {
			byRate = *k.ByRate
		}
		t.number(k.Turns, 2)
		for _, x := range []float64{k.ByTorque.From, k.ByTorque.To, k.ByTorque.Spread, byRate.From, byRate.To, byRate.Spread} {
			t.number(x, 4)
		}
		t.value(k.Mean, 1, 6)
		t.value(k.Day, 1, 6)
		t.number(k.Hours, 4)
		t.end()
	}
	return t.err
}

// fuseeFields is the layout of what is told of a spring and its fusee. Figures that
// could not be had are null; those of a fusee are where none was designed.
type fuseeFields struct {
	Schema      int               `json:"schema"`
	Kind        string            `json:"kind"` // "fusee"
	Torque      string            `json:"torque"`
	TorqueFile  string            `json:"torque_file,omitempty"`
	Run         string            `json:"run,omitempty"`
	Exponent    analysis.Number   `json:"exponent"` // of a run's amplitude in the torque
	Spring      analysis.Number   `json:"spring_turns"`
	Scatter     analysis.Number   `json:"torque_scatter_nmm"`
	Friction    analysis.Number   `json:"friction_nmm"` // half of up minus down
	Mean        analysis.Number   `json:"mean_torque_nmm"`
	StopWork    []stopWorkFields  `json:"stop_work"`
	Recommended *stopWorkFields   `json:"recommended_stop_work"`
	Chain       analysis.Number   `json:"chain_mm"`
	BarrelTurns analysis.Number   `json:"barrel_turns"`
	SetUp       analysis.Number   `json:"set_up_turns"`
	Turns       analysis.Number   `json:"fusee_turns"`
	Pitch       analysis.Number   `json:"pitch_mm"`
	Largest     analysis.Number   `json:"largest_radius_mm"`
	Least       analysis.Number   `json:"least_radius_mm"`
	Even        analysis.Number   `json:"torque_nmm"`
	LeftOver    analysis.Number   `json:"left_over_percent"`
	Doubt       analysis.Number   `json:"torque_error_percent"`
	Stronger    analysis.Number   `json:"left_over_spring_5_percent_stronger_percent"`
	MoreSetUp   analysis.Number   `json:"left_over_half_turn_more_set_up_percent"`
	Rate        *rateFields       `json:"rate"`
	Files       map[string]string `json:"files"`
}

// stopWorkFields is one number of turns kept.
type stopWorkFields struct {
	Turns        analysis.Number `json:"turns_kept"`
	TorqueFrom   analysis.Number `json:"torque_from_turns"`
	TorqueSpread analysis.Number `json:"torque_spread_percent"`
	RateFrom     analysis.Number `json:"rate_from_turns"`
	RateSpread   analysis.Number `json:"rate_spread_s_per_day"`
	Day          analysis.Number `json:"gained_in_a_day_s"`
	Goes         analysis.Number `json:"goes_hours"`
}

// rateFields is the rate over the wind with the fusee.
type rateFields struct {
	Mean     analysis.Number `json:"mean_s_per_day"`
	SE       analysis.Number `json:"standard_error_s_per_day"`
	Spread   analysis.Number `json:"spread_s_per_day"`
	SpreadSE analysis.Number `json:"spread_standard_error_s_per_day"`
	Before   analysis.Number `json:"spread_as_it_is_s_per_day"`
}

func newStopWorkFields(k fusee.Kept) stopWorkFields {
	f := stopWorkFields{analysis.Number(k.Turns), analysis.Number(k.ByTorque.From), analysis.Number(k.ByTorque.Spread),
		analysis.None(), analysis.None(), analysis.Number(k.Day.X), analysis.Number(k.Hours)}
	if k.ByRate != nil {
		f.RateFrom, f.RateSpread = analysis.Number(k.ByRate.From), analysis.Number(k.ByRate.Spread)
	}
	return f
}

// FuseeJSON writes what is told of a spring and its fusee as indented JSON with a final
// newline; files holds the names of the charts and tables by role.
func FuseeJSON(w io.Writer, r *fusee.Result, files map[string]string) error {
	none := analysis.None()
	f := fuseeFields{Schema: analysis.Schema, Kind: "fusee", Torque: "measured", TorqueFile: r.TablePath, Exponent: none,
		Spring: analysis.Number(r.Torque.End() - r.Torque.Start()), Scatter: none, Friction: none, Mean: none, StopWork: []stopWorkFields{}, Files: files,
		Chain: none, BarrelTurns: none, SetUp: none, Turns: none, Pitch: none, Largest: none, Least: none, Even: none, LeftOver: none, Doubt: none, Stronger: none, MoreSetUp: none}
	if r.Run != nil {
		f.Run = r.Run.Path
	}
	if r.Proxy() {
		f.Torque, f.Exponent = "amplitude", analysis.Number(r.Exponent)
	} else {
		f.Scatter = analysis.Number(r.Torque.Scatter(r.Table.Turns, r.Table.Down))
	}
	if r.BothWays {
		f.Friction, f.Mean = analysis.Number(r.Friction.Half), analysis.Number(r.Friction.Mean)
	}
	for _, k := range r.Kept {
		f.StopWork = append(f.StopWork, newStopWorkFields(k))
	}
	if r.Recommended >= 0 {
		f.Recommended = &f.StopWork[r.Recommended]
	}
	if r.Fusee != nil {
		f.made(r)
	}
	return analysis.WriteJSON(w, f)
}

// made fills in the figures of a fusee.
func (f *fuseeFields) made(r *fusee.Result) {
	made, radii := r.Fusee, r.Fusee.Radii()
	f.Chain, f.BarrelTurns, f.SetUp = analysis.Number(made.Chain), analysis.Number(made.BarrelTurns), analysis.Number(made.SetUp)
	f.Turns, f.Pitch = analysis.Number(made.Turns), analysis.Number(made.Pitch)
	f.Least, f.Largest = analysis.Number(radii[0]), analysis.Number(radii[1])
	if !r.Proxy() {
		f.Even = analysis.Number(made.Torque)
	}
	f.LeftOver, f.Doubt = analysis.Number(r.Trials[fusee.AsCut].Spread), analysis.Number(r.Doubt)
	f.Stronger = analysis.Number(r.Trials[fusee.Stronger].Spread)
	if t := r.Trials[fusee.MoreSetUp]; t.Possible {
		f.MoreSetUp = analysis.Number(t.Spread)
	}
	if e := r.Evened; e != nil {
		f.Rate = &rateFields{analysis.Number(e.Mean.X), analysis.Number(e.Mean.SE), analysis.Number(e.SpreadAfter.X), analysis.Number(e.SpreadAfter.SE),
			analysis.Number(e.SpreadBefore)}
	}
}

// FuseeText writes what is told of a spring and its fusee for a person to read. dir is the
// folder that it points to.
func FuseeText(w io.Writer, r *fusee.Result, dir string) error {
	var p page
	p.line("Caution", fusee.Caution)
	p.WriteByte('\n')
	p.paragraph(r.Finding())
	for _, part := range [][]fusee.Entry{r.Spring(), r.Making(), r.Keeping()} {
		if len(part) > 0 {
			p.WriteByte('\n')
		}
		for _, e := range part {
			p.line(e.Label, e.Text)
		}
	}
	p.WriteByte('\n')
	p.line("Stop-work", r.StopWorkNote())
	p.stopWork(r)
	fmt.Fprintf(&p, "\n%-*s%s\n", labelWidth, "Results", wavio.OneLine(dir))
	_, err := io.WriteString(w, prose.Terminal(p.String()))
	return err
}

// stopWork writes the table of stop-work in columns, a star at the one recommended.
func (p *page) stopWork(r *fusee.Result) {
	row := func(mark string, fields ...any) {
		text := fmt.Sprintf("%*s%-2s%11s  %14s  %8s", labelWidth-2, "", mark, fields[0], fields[1], fields[2])
		if r.ByRate() {
			text += fmt.Sprintf("  %14s  %12s  %18s  %12s", fields[3], fields[4], fields[5], fields[6])
		}
		p.WriteString(strings.TrimRight(text, " ") + "\n")
	}
	row("", "kept", "by torque", "changes", "by rate", "changes", "in a day", "goes for")
	for _, k := range r.StopWorkRows() {
		mark := ""
		if k.Best {
			mark = "*"
		}
		row(mark, k.Kept, k.Torque, k.TorqueSpread, k.Rate, k.RateSpread, k.Day, k.Goes)
	}
}

package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"rundown/analysis"
	"rundown/analysis/export"
	"rundown/analysis/fusee"
	"rundown/analysis/runs"
	"rundown/dsp/wavio"
	"rundown/plotting/chart"
	"rundown/plotting/drawing"
	"rundown/plotting/page"
)

// fuseeFlags are the settings of the fusee command as they were given.
type fuseeFlags struct {
	torque, results, out string // the table, the folder of the run, the folder of what is found
	hours, exponent      float64
	tolerance            float64
	uneven               float64
	made                 fusee.Options // lengths in the unit given
	units                fusee.Units
	common
}

// fuseeUsage is the head of the help text of the fusee command.
const fuseeUsage = `Usage: rundown fusee [flags] [RESULTS]

Which turns of the barrel stop-work should keep, and, with --barrel-diameter, --chain
and --turns, the fusee that makes the torque even. The torque comes from a table with
the columns turns (unwound from full wind) and torque_nmm, or turns, up_nmm (winding)
and down_nmm; without one, the amplitude of a run stands in for it. RESULTS is the
results folder of a run that began at full wind: it adds the rate.

Caution: a mainspring under power and a chain under tension can maim, and a fusee's
stop must hold full torque. What the command prints begins with what to mind.

`

func (a *fuseeFlags) run(ctx context.Context, s streams) (int, error) {
	r, err := a.result()
	if err == nil {
		err = a.write(ctx, r)
	}
	if err != nil {
		return exitFailure, err
	}
	return exitOK, s.print(func(w io.Writer) error {
		if a.json {
			return export.FuseeJSON(w, r, a.files(r))
		}
		return export.FuseeText(w, r, a.out)
	}, "; the results are in "+a.out)
}

// parseFusee reads the command line.
func parseFusee(args []string) (command, error) {
	a := &fuseeFlags{common: newCommon("fusee")}
	f := a.set
	f.StringVar(&a.torque, "torque", "", "torque table `FILE` (default: the run's amplitude stands in for it)")
	f.StringVar(&a.out, "out", "", "results folder `DIR` (default: beside the table or the run, named after it)")
	f.Float64Var(&a.tolerance, "tolerance", 10, "width `S` of the rate over the turns that stop-work keeps, seconds per day, with a run")
	f.Float64Var(&a.uneven, "uneven", 20, "by how many `PERCENT` the torque may change over them, without a run")
	f.Float64Var(&a.hours, "hours-per-turn", 0, "how long the barrel takes for a turn, `H` (default: from the train that the run was analysed with)")
	f.Float64Var(&a.exponent, "exponent", 1.5, "without a table, torque goes as the amplitude to the power `X`: 1 for losses of solid friction, 2 for those of the air")
	f.Float64Var(&a.made.BarrelDiameter, "barrel-diameter", 0, "diameter `D` of the barrel on which the chain lies, mm")
	f.Float64Var(&a.made.Chain, "chain", 0, "height `H` of the chain outwards from the barrel, mm")
	f.Float64Var(&a.made.Turns, "turns", 0, "turns `N` of the fusee")
	f.Float64Var(&a.made.SetUp, "set-up", 1, "turns `N` of the barrel left wound when all chain is on it, from the table's end")
	f.Float64Var(&a.made.BarrelTurns, "barrel-turns", 0, fmt.Sprintf("turns `N` of the barrel for the whole chain (default: all but the set-up and %.1f at full wind)", fusee.Reserve))
	f.Float64Var(&a.made.ChainWidth, "chain-width", 0, "width `W` of the chain along the barrel, mm (default: its height)")
	f.Float64Var(&a.made.Pitch, "pitch", 0, "pitch `P` of the groove, mm (default: 1.25 of the chain's width)")
	f.Float64Var(&a.made.LeastRadius, "least-radius", 0, "least radius `R` of the chain's middle line that can be cut, mm (default: twice the chain's height)")
	f.Float64Var(&a.made.BarrelHeight, "barrel-height", 0, "height `H` of the barrel on which the chain has room, mm (default: not checked)")
	f.Float64Var(&a.made.Step, "step", 0.125, "turns `N` from row to row of the table for the lathe")
	f.Float64Var(&a.made.Rounding, "rounding", 0.01, "to what `R` the lathe does a radius, mm; with --inches, 0.0005")
	f.BoolVar(&a.units.Inches, "inches", false, "lengths, given and shown, are inches; files for scripts keep to mm")
	f.BoolVar(&a.units.Grams, "gram-centimetres", false, "torques are shown in gf·cm, and so is a column without a unit in its name")
	a.bindOutput("summary")
	f.Lookup("rounding").DefValue, f.Lookup("hours-per-turn").DefValue = "0.01", "0"
	if err := f.Parse(args); err != nil {
		return a, err
	}
	if f.NArg() > 1 {
		return a, errors.New("fusee takes one results folder, or none; see: rundown fusee --help")
	}
	a.results = f.Arg(0)
	return a, a.check()
}

// check finds what is wrong with the values given, and settles the rest.
func (a *fuseeFlags) check() error {
	given := a.set.Changed
	for _, c := range []struct {
		flag       string
		value      float64
		least      float64
		above      bool // least itself will not do
		most       float64
		unlessZero bool
	}{
		{"tolerance", a.tolerance, 0, true, 86400, false}, {"uneven", a.uneven, 0, true, 1000, false}, {"hours-per-turn", a.hours, 0, true, 10000, true},
		{"exponent", a.exponent, 1, false, 2, false}, {"barrel-diameter", a.made.BarrelDiameter, 0, true, 2000, true}, {"chain", a.made.Chain, 0, true, 100, true},
		{"turns", a.made.Turns, 0.5, false, 20, true}, {"set-up", a.made.SetUp, 0, false, 100, false}, {"barrel-turns", a.made.BarrelTurns, 0, true, 100, true},
		{"chain-width", a.made.ChainWidth, 0, true, 100, true}, {"pitch", a.made.Pitch, 0, true, 100, true}, {"least-radius", a.made.LeastRadius, 0, true, 1000, true},
		{"barrel-height", a.made.BarrelHeight, 0, true, 1000, true}, {"step", a.made.Step, 0.01, false, 1, false}, {"rounding", a.made.Rounding, 1e-6, false, 1, false},
	} {
		in := c.value >= c.least && c.value <= c.most && !(c.above && c.value == c.least)
		if !in && (given(c.flag) || !c.unlessZero) {
			from := "at least"
			if c.above {
				from = "above"
			}
			return fmt.Errorf("--%s %s: must be %s %g and at most %g", c.flag, a.set.Lookup(c.flag).Value, from, c.least, c.most)
		}
	}
	switch {
	case a.torque == "" && a.results == "":
		return errors.New("fusee needs a torque table, --torque FILE, or the results folder of a run; see: rundown fusee --help")
	case a.torque != "" && given("exponent"):
		return errors.New("--exponent: is for a run without a torque table")
	case a.results == stdinName || a.torque == stdinName:
		return errors.New("fusee does not read standard input")
	}
	if err := cmp.Or(a.named(a.out), a.settle()); err != nil {
		return err
	}
	if a.out == "" {
		a.out = beside(cmp.Or(a.torque, filepath.Clean(a.results)), ".fusee")
	}
	return nil
}

// settle fills in the measures that were not given, and turns all into millimetres.
func (a *fuseeFlags) settle() error {
	m, given := &a.made, a.set.Changed
	all, any := true, false
	for _, flag := range []string{"barrel-diameter", "chain", "turns"} {
		all, any = all && given(flag), any || given(flag)
	}
	for _, flag := range []string{"set-up", "barrel-turns", "chain-width", "pitch", "least-radius", "barrel-height", "step", "rounding"} {
		any = any || given(flag)
	}
	if any && !all {
		return errors.New("a fusee needs --barrel-diameter, --chain and --turns, all three; without any measure of it, stop-work alone is worked out")
	}
	m.Units = a.units
	for _, length := range []*float64{&m.BarrelDiameter, &m.Chain, &m.ChainWidth, &m.Pitch, &m.LeastRadius, &m.BarrelHeight} {
		*length = a.units.InMillimetres(*length)
	}
	switch {
	case a.units.Inches && !given("rounding"):
		m.Rounding = a.units.InMillimetres(0.0005)
	default:
		m.Rounding = a.units.InMillimetres(m.Rounding)
	}
	if !given("chain-width") {
		m.ChainWidth = m.Chain
	}
	if !given("pitch") {
		m.Pitch = 1.25 * m.ChainWidth
	}
	if !given("least-radius") {
		m.LeastRadius = 2 * m.Chain
	}
	return nil
}

// result reads the files and works everything out.
func (a *fuseeFlags) result() (*fusee.Result, error) {
	if err := foreign(a.out, "windows.csv", "comparison.json"); err != nil {
		return nil, err
	}
	in := fusee.Input{TablePath: a.torque, HoursPerTurn: a.hours, Exponent: a.exponent, Tolerance: a.tolerance, Uneven: a.uneven, Units: a.units}
	if a.made.Turns > 0 {
		in.Options = &a.made
	}
	var err error
	if a.torque != "" {
		if in.Table, err = fusee.Load(a.torque, a.units.Grams); err != nil {
			return nil, err
		}
	}
	if a.results != "" {
		if info, err := os.Stat(a.results); err == nil && !info.IsDir() {
			return nil, fmt.Errorf("%s: is no results folder; analyse the recording first, and give the folder that that leaves", wavio.OneLine(a.results))
		}
		if in.Run, err = runs.Read(a.results); err != nil {
			return nil, err
		}
		if in.Run.Summary.Status != analysis.OK {
			return nil, fmt.Errorf("%s: %w; give a run with a beat, or the torque table alone", wavio.OneLine(a.results), errNoBeat)
		}
	}
	r, err := fusee.New(in)
	if limit := fusee.LimitError(""); errors.As(err, &limit) {
		return nil, usageError{err}
	}
	return r, err
}

// pictures are the charts that there are figures for.
func (a *fuseeFlags) pictures(r *fusee.Result) []picture {
	h := chart.Heading{Name: a.name()}
	pictures := []picture{{"torque", chart.Torque(h, r)}, {"stopwork", chart.StopWork(h, r)}}
	if r.Fusee != nil {
		pictures = append(pictures, picture{"evenness", chart.Evenness(h, r)})
	}
	if r.Evened != nil {
		pictures = append(pictures, picture{"fusee-rate", chart.EvenedRate(h, r)})
	}
	return pictures
}

// name is that of the torque table and of the run, without their folders.
func (a *fuseeFlags) name() string {
	var names []string
	for _, path := range []string{a.torque, a.results} {
		if path != "" {
			names = append(names, filepath.Base(path))
		}
	}
	return strings.Join(names, ", ")
}

// files are the names of what is written, by role.
func (a *fuseeFlags) files(r *fusee.Result) map[string]string {
	files := map[string]string{"stop_work": "stopwork.csv", "report": "fusee.html", "torque": "torque.png", "stopwork": "stopwork.png", "summary": export.SummaryName}
	if r.Fusee != nil {
		files["profile"], files["svg"], files["dxf"], files["evenness"] = "profile.csv", "fusee.svg", "fusee.dxf", "evenness.png"
	}
	if r.Evened != nil {
		files["fusee-rate"] = "fusee-rate.png"
	}
	return files
}

// write leaves the complete results in the folder, or what was there before.
func (a *fuseeFlags) write(ctx context.Context, r *fusee.Result) error {
	pictures, err := drawn(ctx, a.pictures(r))
	if err != nil {
		return err
	}
	show := page.Fusee{Result: r, Name: a.name(), Pictures: pictures}
	var files []output
	for _, p := range show.Pictures {
		files = append(files, output{p.Role + ".png", holding(p.PNG)})
	}
	made, err := a.workshop(r, &show)
	if err != nil {
		return err
	}
	files = append(append(files, made...), []output{
		{"stopwork.csv", func(w io.Writer) error { return export.StopWork(w, r.Kept) }},
		{"fusee.html", func(w io.Writer) error { return page.WriteFusee(w, show) }},
		{export.SummaryName, func(w io.Writer) error { return export.FuseeJSON(w, r, a.files(r)) }},
	}...)
	return writeFolder(ctx, a.out, files, "profile.csv", "evenness.png", "fusee-rate.png", "fusee.svg", "fusee.dxf")
}

// workshop returns the table and the drawings of a fusee, where there is one.
func (a *fuseeFlags) workshop(r *fusee.Result, show *page.Fusee) ([]output, error) {
	if r.Fusee == nil {
		return nil, nil
	}
	d := drawing.Fusee(r.Fusee, a.units)
	var svg bytes.Buffer
	if err := d.WriteSVG(&svg); err != nil {
		return nil, err
	}
	show.Drawing = svg.Bytes()
	return []output{
		{"profile.csv", func(w io.Writer) error { return export.FuseeProfile(w, r.Fusee, a.units) }},
		{"fusee.svg", holding(show.Drawing)},
		{"fusee.dxf", d.WriteDXF},
	}, nil
}

package main

import (
	"cmp"
	"fmt"
	"math"
	"time"
)

// stdinName is the recording that stands for standard input.
const stdinName = "-"

// analyseFlags are the settings of the analyse command as they were given.
type analyseFlags struct {
	recordings  []string
	out         string
	bph         float64
	train       string
	escapeTeeth int
	liftAngle   float64
	window      time.Duration
	tolerance   float64
	clock       clockFlags
	notes       notesFlags
	environment environmentFlags
	channel     int
	clips       int
	liftTime    float64  // ms; 0 where it is not given
	noted       []string // what went wrong with the recording while it was made
	common
}

// parseAnalyse reads the command line.
func parseAnalyse(args []string) (command, error) {
	a := &analyseFlags{common: newCommon("analyse")}
	a.bind()
	if err := a.set.Parse(args); err != nil {
		return a, err
	}
	a.recordings = a.set.Args()
	return a, a.check()
}

// bind defines the flags.
func (a *analyseFlags) bind() {
	f := a.set
	f.StringVar(&a.out, "out", "", "results folder `DIR` (default: beside the first recording, named after it)")
	f.Float64Var(&a.bph, "bph", 0, "nominal beats per hour, `N` (default: from the train, or a customary count near the measured one, or the measured one)")
	f.StringVar(&a.train, "train", "", "`FILE` that describes the going train")
	f.IntVar(&a.escapeTeeth, "escape-teeth", 0, "teeth `N` of the escape wheel, where there is no train file")
	f.Float64Var(&a.liftAngle, "lift-angle", 0, "lift angle `DEG` of the escapement, for amplitude in degrees")
	f.Float64Var(&a.liftTime, "lift-time", 0, "about the lift time at full wind, `MS`, where the program takes the wrong sounds for it or doubts them")
	f.DurationVar(&a.window, "window", time.Minute, "width `DUR` of one averaging window")
	f.Float64Var(&a.tolerance, "tolerance", 10, "total width `S` of the stable band, seconds per day")
	a.clock.bind(f)
	a.notes.bind(f)
	a.environment.bind(f)
	f.IntVar(&a.channel, "channel", 0, "channel `N` that carries the movement, from 1 (default: the clearest)")
	f.IntVar(&a.clips, "clips", 50, "keep the sound around `N` events, at most 50; 0 keeps none")
	a.bindOutput("summary")
	a.bindQuiet()
}

// checkValues finds what is wrong with the values given, of those flags that the
// command has.
func (a *analyseFlags) checkValues() error {
	return cmp.Or(
		a.positive("bph", a.bph, 1e6),
		a.positive("lift-angle", a.liftAngle, 180),
		a.positive("lift-time", a.liftTime, 1000),
		a.positive("tolerance", a.tolerance, 86400),
		a.within("escape-teeth", a.escapeTeeth, 2, 1000),
		a.within("channel", a.channel, 1, math.MaxUint16),
		a.within("clips", a.clips, 0, 50),
	)
}

// check finds what is wrong with the command line.
func (a *analyseFlags) check() error {
	if err := a.checkValues(); err != nil {
		return err
	}
	switch {
	case a.window < time.Second:
		return fmt.Errorf("--window %v: must be at least 1s", a.window)
	case a.set.Changed("train") && a.set.Changed("escape-teeth"):
		return fmt.Errorf("--train and --escape-teeth: give one or the other, the train holds the escape wheel")
	}
	if err := cmp.Or(a.named(a.out), checkRecordings(a.recordings), a.clock.check(a.recordings)); err != nil {
		return err
	}
	a.notes.Started = a.clock.began()
	return a.notes.check()
}

func checkRecordings(names []string) error {
	if len(names) == 0 {
		return fmt.Errorf("analyse needs a recording; see: rundown analyse --help")
	}
	streams := 0
	for _, name := range names {
		if name == stdinName {
			streams++
		}
		if streams > 1 {
			return fmt.Errorf("standard input (-) can be read only once")
		}
		if name == "" {
			return fmt.Errorf("a recording has an empty name")
		}
	}
	return nil
}

// results is the folder that the results go to.
func (a *analyseFlags) results() string {
	switch first := a.recordings[0]; {
	case a.out != "":
		return a.out
	case first == stdinName:
		return "stdin.rundown"
	default:
		return beside(first, ".rundown")
	}
}

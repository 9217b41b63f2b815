package main

import (
	"errors"
	"fmt"

	"github.com/spf13/pflag"

	"rundown/analysis/environment"
	"rundown/analysis/notes"
)

// notesFlags are what the maker notes of a run.
type notesFlags struct {
	notes.Notes
	temperature float64
	set         *pflag.FlagSet
}

func (n *notesFlags) bind(f *pflag.FlagSet) {
	n.set = f
	f.StringVar(&n.Label, "label", "", "`TEXT` that names the state of the movement; runs of one label are alike")
	f.StringVar(&n.Position, "position", "", "position `P` of the movement: \"dial up\", \"pendant down\" and so on, or DU, PD; or any text")
	f.StringVar(&n.Oil, "oil", "", "`TEXT` that names the oil")
	f.StringVar(&n.Part, "part", "", "`TEXT` that names the part that was made, fitted or worked on")
	f.Float64Var(&n.temperature, "temperature", 0, "temperature `T` of the room, degrees Celsius")
}

// check puts the flags in order.
func (n *notesFlags) check() error {
	if n.set.Changed("temperature") {
		n.Temperature = &n.temperature
	}
	if err := n.Check(); err != nil {
		return fmt.Errorf("--%w", err)
	}
	return nil
}

// of is what is noted of a recording: in the file beside it, and over that by
// flags.
func (n *notesFlags) of(recording string) (notes.Notes, error) {
	if recording == stdinName {
		return n.Notes, nil
	}
	beside, err := notes.Load(recording)
	return beside.Over(n.Notes), err
}

// environmentFlags say what a logger wrote and how it did.
type environmentFlags struct {
	file   string
	format environment.Format
}

func (e *environmentFlags) bind(f *pflag.FlagSet) {
	f.StringVar(&e.file, "environment", "", "`FILE` that a logger wrote of temperature and the like, as CSV")
	f.StringVar(&e.format.Separator, "environment-separator", "", "character `C` between its columns, or tab (default: recognised)")
	f.StringVar(&e.format.Decimal, "environment-decimal", "", "its decimals are set off by a `MARK`: point or comma (default: recognised)")
	f.StringVar(&e.format.Times, "environment-time", "", "its times are written as `T`: ymd, dmy, mdy, unix, or since the first sample s, min, h, elapsed (default: recognised)")
}

// load reads the log, nil where there is none.
func (e *environmentFlags) load() (*environment.Log, error) {
	if e.file == "" {
		if e.format != (environment.Format{}) {
			return nil, usageError{errors.New("--environment: the file is missing to which the other flags belong")}
		}
		return nil, nil
	}
	return environment.Load(e.file, e.format)
}

// startOf is when a run began by its notes, nil where they don't say.
func startOf(n notes.Notes) *environment.Start {
	at, zoned, err := notes.Moment(n.Started)
	if err != nil {
		return nil
	}
	return &environment.Start{At: at, Zoned: zoned}
}

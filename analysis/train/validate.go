package train

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	maxArbors  = 32
	maxTeeth   = 10000
	minEscape  = 3  // the legs of a gravity escapement; fewer is no wheel
	maxNameLen = 40 // runes
	// Beats per hour outside these belong to no movement one could listen to.
	minPerHour, maxPerHour = 60, 1e6
)

// EscapeWheel is the train of which nothing is known but the escape wheel.
func EscapeWheel(teeth int) (*Train, error) {
	if err := inRange("teeth of the escape wheel", teeth, minEscape); err != nil {
		return nil, err
	}
	return &Train{Arbors: []Arbor{{Name: "escape", Escape: teeth}}}, nil
}

func (t *Train) validate() error {
	if n := len(t.Arbors); n == 0 || n > maxArbors {
		return fmt.Errorf("%d arbors: give 1 to %d, each under its own [[arbor]] line", n, maxArbors)
	}
	seen := map[string]bool{}
	fixed := ""
	for i, a := range t.Arbors {
		if err := checkName(i, a.Name, seen); err != nil {
			return err
		}
		if err := a.check(i == 0, i == len(t.Arbors)-1); err != nil {
			return fmt.Errorf("arbor %q: %w", a.Name, err)
		}
		if a.TurnsPerHour != 0 && fixed != "" {
			return fmt.Errorf("arbor %q: turns_per_hour is already given by arbor %q: keep one of them", a.Name, fixed)
		}
		if a.TurnsPerHour != 0 {
			fixed = a.Name
		}
	}
	if n := t.BeatsPerHour(); fixed != "" && !(n >= minPerHour && n <= maxPerHour) {
		return fmt.Errorf("arbor %q: turns_per_hour makes %.4g beats per hour, outside %d to %.0f: check it, and the teeth and leaves", fixed, n, minPerHour, maxPerHour)
	}
	return nil
}

func checkName(i int, name string, seen map[string]bool) error {
	switch {
	case strings.TrimSpace(name) == "":
		return fmt.Errorf("arbor %d has no name: give it one (name = \"third\")", i+1)
	case utf8.RuneCountInString(name) > maxNameLen || strings.ContainsFunc(name, notPrintable):
		return fmt.Errorf("arbor %d: name %q: use at most %d printable characters", i+1, short(name), maxNameLen)
	case seen[name]:
		return fmt.Errorf("arbor %d: name %q is taken: give every arbor its own", i+1, name)
	}
	seen[name] = true
	return nil
}

func notPrintable(r rune) bool { return !unicode.IsPrint(r) }

// check tells what is wrong with one arbor, given its place in the train.
func (a Arbor) check(first, last bool) error {
	switch {
	case a.Pinion == 0 && !first:
		return fmt.Errorf("no pinion: give the leaves of the pinion that drives it (pinion = 10)")
	case a.Wheel == 0 && !last:
		return fmt.Errorf("no wheel: give the teeth of the wheel that drives the next arbor (wheel = 80)")
	case a.Escape == 0 && last:
		return fmt.Errorf("no escape wheel on the last arbor: give its teeth (escape = 15), or add the arbors that are missing")
	case a.Wheel != 0 && last:
		return fmt.Errorf("wheel on the last arbor, which drives none: remove it, or add the arbors that are missing")
	case a.Escape != 0 && !last:
		return fmt.Errorf("escape wheel before the last arbor: list the arbors from the slowest to the escape wheel")
	case math.IsNaN(a.TurnsPerHour) || math.IsInf(a.TurnsPerHour, 0) || a.TurnsPerHour < 0:
		return fmt.Errorf("turns_per_hour = %v: give a positive number", a.TurnsPerHour)
	}
	if a.Pinion != 0 {
		if err := inRange("pinion", a.Pinion, 1); err != nil {
			return err
		}
	}
	if last {
		return inRange("escape", a.Escape, minEscape)
	}
	return inRange("wheel", a.Wheel, 1)
}

func inRange(what string, n, least int) error {
	if n < least || n > maxTeeth {
		return fmt.Errorf("%s = %d: give a count from %d to %d", what, n, least, maxTeeth)
	}
	return nil
}

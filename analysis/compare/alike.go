package compare

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/runs"
)

// makeAlike brings two runs to common windows, and refuses what can't be
// compared. The notes say what must be kept in mind of what can. Windows are
// changed in place.
func makeAlike(before, after *runs.Run) (notes []string, err error) {
	for _, r := range []*runs.Run{before, after} {
		if r.Summary.Status != analysis.OK {
			return nil, fmt.Errorf("%s: no beat was found in it; compare needs two runs with a beat", r.Path)
		}
		if len(r.Windows) < leastPairs {
			return nil, fmt.Errorf("%s: %d averaging windows are too few to compare; analyse it with a narrower --window", r.Path, len(r.Windows))
		}
	}
	if err := sameNominal(before, after); err != nil {
		return nil, err
	}
	note, err := commonWindows(before, after)
	if err != nil {
		return nil, err
	}
	notes = append(notes, note...)
	note, err = clocks(before, after)
	if err != nil {
		return nil, err
	}
	notes = append(notes, note...)
	if a, b := before.Summary.Recording.SampleRate, after.Summary.Recording.SampleRate; a != b {
		notes = append(notes, fmt.Sprintf("The recordings were sampled at %d and %d Hz: jitter, which holds the noise of detection, is not judged.", a, b))
	}
	if a, b := before.Summary.Beat.Mark, after.Summary.Beat.Mark; a != b {
		notes = append(notes, fmt.Sprintf("Beats are marked at %s before and at %s after: a change of amplitude may pass for one of rate.", mark(a), mark(b)))
	}
	return notes, nil
}

func mark(name string) string {
	switch name {
	case analysis.MidLift:
		return "mid-lift"
	case "":
		return "an unnamed sound"
	}
	return "the " + name + " sound"
}

func sameNominal(before, after *runs.Run) error {
	a, b := float64(before.Summary.Beat.Nominal), float64(after.Summary.Beat.Nominal)
	if math.Abs(a-b) > 1e-9*a {
		return fmt.Errorf("%s is measured against %.10g beats per hour and %s against %.10g; give the one that holds for both with --bph",
			before.Path, a, after.Path, b)
	}
	for _, r := range []*runs.Run{before, after} {
		if m := float64(r.Summary.Beat.Measured); math.Abs(m/a-1) > 0.05 {
			return fmt.Errorf("%s beats %.6g times an hour, which is not near %.10g; give the nominal count with --bph, or compare runs of one movement",
				r.Path, m, a)
		}
	}
	return nil
}

// commonWindows widens the narrower windows to the width of the others.
func commonWindows(before, after *runs.Run) ([]string, error) {
	a, b := before.Width(), after.Width()
	ratio := math.Round(max(a, b) / min(a, b))
	if math.Abs(max(a, b)/min(a, b)-ratio) > 1e-6*ratio {
		return nil, fmt.Errorf("%s has windows of %.6g s and %s of %.6g s, and neither is a multiple of the other; analyse one again with the other's --window",
			before.Path, a, after.Path, b)
	}
	if ratio == 1 {
		return nil, nil
	}
	narrow := before
	if b < a {
		narrow = after
	}
	narrow.Widen(int(ratio))
	if len(narrow.Windows) < leastPairs {
		return nil, fmt.Errorf("%s: in windows as wide as the other run's it is too short to compare; analyse both with a narrower --window", narrow.Path)
	}
	return []string{fmt.Sprintf("Windows of %s were joined by %g to the %.6g s of the other run.", narrow.Path, ratio, max(a, b))}, nil
}

// clocks refuses to take the error of one clock for a change of the movement.
func clocks(before, after *runs.Run) ([]string, error) {
	a, b := before.Summary.Recording, after.Summary.Recording
	switch {
	case a.ClockVerified && b.ClockVerified:
		return nil, nil
	case a.ClockVerified != b.ClockVerified, a.ClockPPM != b.ClockPPM:
		known, other := before.Path, after.Path
		if b.ClockVerified {
			known, other = other, known
		}
		return nil, fmt.Errorf("the recorder's clock is corrected in %s but not in %s, which alone can be seconds a day; analyse both with --clock-ppm, or both without",
			known, other)
	}
	return []string{"No recorder's clock was checked: rates compare only if one and the same recorder made both recordings. Ten parts per million of difference are 0.86 s/day."}, nil
}

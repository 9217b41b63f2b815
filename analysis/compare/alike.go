package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rundown/analysis"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// harmonise brings runs to common windows, and refuses what can't be compared.
// The notes say what must be kept in mind of what can. Windows are changed in
// place.
func harmonise(all []*runs.Run) (notes []string, err error) {
	for _, r := range all {
		if r.Summary.Status != analysis.OK {
			return nil, fmt.Errorf("%s: no beat was found in it; compare needs runs with a beat", r.Path)
		}
		if len(r.Windows) < stats.LeastFigures {
			return nil, fmt.Errorf("%s: %d averaging windows are too few to compare; analyse it with a narrower --window", r.Path, len(r.Windows))
		}
	}
	for _, r := range all {
		if err := sameNominal(all[0], r); err != nil {
			return nil, err
		}
	}
	if notes, err = commonWindows(all); err != nil {
		return nil, err
	}
	note, err := clocks(all)
	if err != nil {
		return nil, err
	}
	return append(append(notes, note...), unlike(all)...), nil
}

// unlike says what is not alike in runs that can be compared all the same.
func unlike(all []*runs.Run) (notes []string) {
	first := all[0]
	for _, r := range all[1:] {
		if a, b := first.Summary.Recording.SampleRate, r.Summary.Recording.SampleRate; a != b {
			notes = append(notes, fmt.Sprintf("The recordings were sampled at %d and %d Hz: jitter, which holds the noise of detection, is not judged.", a, b))
			break
		}
	}
	for _, r := range all[1:] {
		if a, b := first.Summary.Beat.Mark, r.Summary.Beat.Mark; a != b {
			notes = append(notes, fmt.Sprintf("Beats are marked at %s in %s and at %s in %s: a change of amplitude may pass for one of rate.", mark(a), first.Path, mark(b), r.Path))
			break
		}
	}
	return notes
}

// otherwise says what the maker noted to be different before and after, beside the
// change.
func otherwise(before, after []*runs.Run) (notes []string) {
	if a, b := warmth(before), warmth(after); math.Abs(b-a) >= 1 {
		notes = append(notes, fmt.Sprintf("It was %.1f °C before and %.1f °C after in the mean: what that does passes for the change.", a, b))
	}
	if a, b := positions(before), positions(after); a != b && a != "" && b != "" {
		notes = append(notes, fmt.Sprintf("The positions are not the same: %s before, %s after. What that does passes for the change.", a, b))
	}
	return notes
}

// warmth is the mean of the temperatures noted, NaN where there are none.
func warmth(rs []*runs.Run) float64 {
	var xs []float64
	for _, r := range rs {
		if t := r.Summary.Notes.Temperature; t != nil {
			xs = append(xs, *t)
		}
	}
	return stats.Mean(xs)
}

// positions lists the positions noted, each as often as it was taken.
func positions(rs []*runs.Run) string {
	var all []string
	for _, r := range rs {
		if p := r.Summary.Notes.Position; p != "" {
			all = append(all, p)
		}
	}
	slices.Sort(all)
	return strings.Join(all, " and ")
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

func sameNominal(first, r *runs.Run) error {
	a, b := float64(first.Summary.Beat.Nominal), float64(r.Summary.Beat.Nominal)
	if math.Abs(a-b) > 1e-9*a {
		return fmt.Errorf("%s is measured against %.10g beats per hour and %s against %.10g; give the one that holds for all with --bph",
			first.Path, a, r.Path, b)
	}
	if m := float64(r.Summary.Beat.Measured); math.Abs(m/a-1) > 0.05 {
		return fmt.Errorf("%s beats %.6g times an hour, which is not near %.10g; give the nominal count with --bph, or compare runs of one movement",
			r.Path, m, a)
	}
	return nil
}

// commonWindows widens narrower windows to the width of the widest.
func commonWindows(all []*runs.Run) (notes []string, err error) {
	widest := all[0]
	for _, r := range all {
		if r.Width() > widest.Width() {
			widest = r
		}
	}
	for _, r := range all {
		ratio := math.Round(widest.Width() / r.Width())
		if math.Abs(widest.Width()/r.Width()-ratio) > 1e-6*ratio {
			return nil, fmt.Errorf("%s has windows of %.6g s and %s of %.6g s, and neither is a multiple of the other; analyse one again with the other's --window",
				widest.Path, widest.Width(), r.Path, r.Width())
		}
		if ratio == 1 {
			continue
		}
		r.Widen(int(ratio))
		if len(r.Windows) < stats.LeastFigures {
			return nil, fmt.Errorf("%s: in windows as wide as those of %s it is too short to compare; analyse both with a narrower --window", r.Path, widest.Path)
		}
		notes = append(notes, fmt.Sprintf("Windows of %s were joined by %g to the %.6g s of %s.", r.Path, ratio, widest.Width(), widest.Path))
	}
	return notes, nil
}

// clocks refuses to take the error of one clock for a change of the movement.
func clocks(all []*runs.Run) ([]string, error) {
	a := all[0].Summary.Recording
	for _, r := range all[1:] {
		b := r.Summary.Recording
		if a.ClockVerified && b.ClockVerified || a.ClockVerified == b.ClockVerified && a.ClockPPM == b.ClockPPM {
			continue
		}
		known, other := all[0].Path, r.Path
		if b.ClockVerified {
			known, other = other, known
		}
		return nil, fmt.Errorf("the recorder's clock is corrected in %s but not in %s, which alone can be seconds a day; analyse all with --clock-ppm, or all without",
			known, other)
	}
	if a.ClockVerified {
		return nil, nil
	}
	return []string{"No recorder's clock was checked: rates compare only if one and the same recorder made all recordings. Ten parts per million of difference are 0.86 s/day."}, nil
}

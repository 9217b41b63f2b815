package chart

import (
	"math"
	"slices"

	"gonum.org/v1/plot"

	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// Floor is a limit that some thing sets to what can be measured.
type Floor struct {
	Name       string
	Tau, Sigma []float64 // of equal length: averaging times in s, fractional rate
}

// Stability draws the Allan deviation against averaging time on logarithmic
// axes, in seconds a day and in parts per million, with its 95 % band, the
// floor that the scatter of the beats sets, and any further floors.
func Stability(h Heading, stabilities []rate.Stability, floors ...Floor) *Figure {
	for _, f := range floors {
		if len(f.Tau) != len(f.Sigma) {
			panic("chart: a floor with times and deviations of unequal number")
		}
	}
	shown := drawable(stabilities)
	floors = append([]Floor{scatterFloor(shown)}, floors...)
	times, values := stabilitySpans(shown, floors)
	p := &Panel{X: logTimes(times), Y: logAxis("Allan deviation (s/day)", values)}
	p.X.Unit, p.Y.Unit = "s", "s/day"
	right := logAxis("parts per million", span{values.lo * 1e6 / day, values.hi * 1e6 / day})
	p.Right = &right
	f := newFigure("Stability: Allan deviation against averaging time", h, p)
	if len(shown) == 0 {
		p.Banner = "the run is too short"
		return f
	}
	run := Series{Name: "this run", Bounds: Interval, Band: &pale, Ink: dark, Width: 1, Mark: Dot, Size: 2}
	log := func(v float64) float64 { return math.Log10(max(v*day, values.lo*1e-3)) } // has no place for 0
	for _, s := range shown {
		low, high := s.AllanLow, s.AllanHigh
		if !finite(low) || !finite(high) {
			low, high = s.Allan, s.Allan
		}
		run.X, run.Y = append(run.X, math.Log10(s.Tau)), append(run.Y, log(s.Allan))
		run.Low, run.High = append(run.Low, log(low)), append(run.High, log(high))
	}
	p.Series = append(p.Series, run)
	for i, fl := range floors {
		s := fl.series()
		s.Dash = [][]float64{{5, 2}, {1.5, 1.5}, {6, 2, 1.5, 2}}[i%3]
		switch {
		case len(s.Y) == 0: // not known
		case slices.Max(s.Y) < p.Y.Low:
			f.note("The floor of the " + safe(fl.Name) + " lies below the scale.")
		case slices.Min(s.Y) > p.Y.High:
			f.note("The floor of the " + safe(fl.Name) + " lies above the scale.")
		default:
			p.Series = append(p.Series, s)
		}
	}
	f.note("The lower a point, the less the rate changes from one stretch of that length to the next. A floor is the least that could have been measured.")
	return f
}

// series is the floor as a line, where a logarithmic axis can show it.
func (f Floor) series() Series {
	s := Series{Name: "floor: " + safe(f.Name), Ink: rust, Width: 0.8}
	for i, t := range f.Tau {
		if v := f.Sigma[i]; t > 0 && v > 0 && finite(t) && finite(v) {
			s.X, s.Y = append(s.X, math.Log10(t)), append(s.Y, math.Log10(v*day))
		}
	}
	return s
}

// scatterFloor is the floor that comes with the stabilities.
func scatterFloor(ss []rate.Stability) Floor {
	f := Floor{Name: "scatter of the beats"}
	for _, s := range ss {
		f.Tau, f.Sigma = append(f.Tau, s.Tau), append(f.Sigma, s.AllanFloor)
	}
	return f
}

// drawable keeps the stabilities that a logarithmic axis can show.
func drawable(ss []rate.Stability) []rate.Stability {
	var kept []rate.Stability
	for _, s := range ss {
		if s.Tau > 0 && s.Allan > 0 && finite(s.Tau) && finite(s.Allan) {
			kept = append(kept, s)
		}
	}
	return kept
}

// stabilitySpans are the ranges of the axes, values in seconds a day: all
// deviations with their intervals, and of the floors what lies within a decade
// below.
func stabilitySpans(ss []rate.Stability, floors []Floor) (times, values span) {
	if len(ss) == 0 {
		return span{1, hour}, span{0.01, 10}
	}
	times, values = span{ss[0].Tau, ss[0].Tau}, span{ss[0].Allan, ss[0].Allan}
	for _, s := range ss {
		times = times.including(s.Tau)
		for _, v := range []float64{s.Allan, s.AllanLow, s.AllanHigh} {
			// The longest averaging times are hardly known: their intervals
			// count no further than a decade.
			if finite(v) && v > 0 {
				values = values.including(span{s.Allan / 10, s.Allan * 10}.clamp(v))
			}
		}
	}
	near := span{values.lo / 10, values.hi}
	for _, f := range floors {
		for i, s := range f.Sigma {
			if times.contains(f.Tau[i]) && near.contains(s) {
				values = values.including(s)
			}
		}
	}
	const room = 1.25
	return decade(span{times.lo / room, times.hi * room}), decade(span{values.lo / room * day, values.hi * room * day})
}

// decade widens a range of positive values to a decade, which holds two labels at the least.
func decade(r span) span {
	wider := math.Sqrt(math.Max(1, 10*r.lo/r.hi))
	return span{r.lo / wider, r.hi * wider}
}

// logAxis is an axis of the decimal logarithms of a range of positive values:
// the decades are labelled, where they are few also 2 and 5, and within one all.
func logAxis(label string, r span) Axis {
	a := Axis{Label: label, Kind: Log, Low: math.Log10(r.lo), High: math.Log10(r.hi)}
	decades := a.High - a.Low
	for decade := int(math.Floor(a.Low)); decade <= int(math.Ceil(a.High)); decade++ {
		for m := 1; m < 10; m++ {
			t := plot.Tick{Value: float64(decade) + math.Log10(float64(m))}
			if m == 1 || decades < 2.5 && (m == 2 || m == 5) || decades < 0.8 {
				t.Label = prose.Unsigned(float64(m)*math.Pow(10, float64(decade)), max(0, -decade))
			}
			if a.span().contains(t.Value) {
				a.Ticks = append(a.Ticks, t)
			}
		}
	}
	return a
}

// logTimes is a logarithmic axis of averaging times, as people say them.
func logTimes(r span) Axis {
	a := Axis{Label: "averaging time", Kind: Log, Low: math.Log10(r.lo), High: math.Log10(r.hi)}
	for _, unit := range []struct {
		size float64
		name string
		most float64 // from here on, a number of this unit is too near to one of the next
	}{{0.001, "ms", 1000}, {1, "s", 30}, {minute, "min", 30}, {hour, "h", 20}, {day, "d", 1000}} {
		for decade := 1.0; decade < unit.most; decade *= 10 {
			for _, m := range []float64{1, 2, 5} {
				if n := m * decade; n < unit.most && r.contains(n*unit.size) {
					a.Ticks = append(a.Ticks, plot.Tick{Value: math.Log10(n * unit.size), Label: prose.Unsigned(n, 0) + " " + unit.name})
				}
			}
		}
	}
	for i, t := range a.Ticks {
		if len(a.Ticks) > mostTimes && t.Label[0] != '1' {
			a.Ticks[i].Label = ""
		}
	}
	return a
}

package page

import (
	"rundown/analysis/beat"
	"rundown/plotting/chart"
)

// data is what the page's script draws.
type data struct {
	End       float64          `json:"end"`             // of the recording, s
	Band      figures          `json:"band,omitempty"`  // start and end of the stable band, s
	Edges     figures          `json:"edges,omitempty"` // least and greatest smoothed rate within it, s/day
	Stops     []figures        `json:"stops"`           // start and end of each, s
	Charts    map[string]curve `json:"charts"`          // by role
	Wheel     *wheel           `json:"wheel,omitempty"`
	Stability *stability       `json:"stability,omitempty"`
	Events    []mark           `json:"events"` // in order of time
	Map       *turns           `json:"map,omitempty"`
}

// wheel counts elapsed time in turns of the arbor at which the power comes in.
type wheel struct {
	Name  string  `json:"name"`
	Start float64 `json:"start"` // of the count, s
	Each  float64 `json:"each"`  // length of a turn, s
}

// curve is a figure against elapsed time.
type curve struct {
	Label  string  `json:"label"`
	Unit   string  `json:"unit"`
	Signed bool    `json:"signed"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Time   figures `json:"time"`
	X      figures `json:"x"`
	SE     rough   `json:"se"`
	Smooth figures `json:"smooth,omitempty"`
}

// stability is the Allan deviation against averaging time, in s/day.
type stability struct {
	Tau   figures `json:"tau"`
	Allan figures `json:"allan"`
	Low   figures `json:"low"`
	High  figures `json:"high"`
	Floor figures `json:"floor"`           // of the scatter of the beats
	Clock figures `json:"clock,omitempty"` // of the recorder's clock
}

// mark is an event as it is drawn.
type mark struct {
	Kind  beat.Kind `json:"kind"`
	Beat  int64     `json:"beat"`
	Start float64   `json:"start"` // s
	End   float64   `json:"end"`   // s
	Shift float64   `json:"shift"` // ms
	Row   int       `json:"row"`   // of the table of events, from 1; 0 where it is not in it
}

func newData(r Run) data {
	d := data{End: r.end(), Stops: []figures{}, Events: []mark{}, Charts: map[string]curve{
		"rate":       newCurve(chart.RateData(r.Charts, mostPoints)),
		"period":     newCurve(chart.PeriodData(r.Charts, mostPoints)),
		"amplitude":  newCurve(chart.AmplitudeData(r.Charts, mostPoints)),
		"beat-error": newCurve(chart.BeatErrorData(r.Charts, mostPoints)),
	}}
	if b := r.Band; b != nil {
		d.Band = figures{b.Start, b.End}
		low, high := r.Windows[b.First].Smoothed.X, r.Windows[b.First].Smoothed.X
		for _, w := range r.Windows[b.First:b.Last] {
			low, high = min(low, w.Smoothed.X), max(high, w.Smoothed.X)
		}
		d.Edges = figures{low, high}
	}
	for _, ev := range r.Events {
		if ev.Kind == beat.Stop {
			d.Stops = append(d.Stops, figures{ev.Start, ev.End})
		}
	}
	if t := r.Charts.Turns; t != nil && t.Each > 0 {
		d.Wheel = &wheel{t.Name, t.Start, t.Each}
	}
	if len(r.Stabilities) > 0 {
		d.Stability = newStability(r)
	}
	if r.Grid != nil {
		d.Map = newTurns(r)
	}
	return d
}

func newCurve(c chart.Data) curve {
	return curve{Label: c.Label, Unit: c.Unit, Signed: c.Signed, Low: c.Low, High: c.High,
		Time: c.Time, X: c.X, SE: c.SE, Smooth: c.Smoothed}
}

// newStability turns fractional rates into seconds a day.
func newStability(r Run) *stability {
	const day = 86400
	var s stability
	for _, p := range r.Stabilities {
		s.Tau = append(s.Tau, p.Tau)
		s.Allan = append(s.Allan, day*p.Allan)
		s.Low, s.High = append(s.Low, day*p.AllanLow), append(s.High, day*p.AllanHigh)
		s.Floor = append(s.Floor, day*p.AllanFloor)
	}
	for _, c := range r.ClockFloor {
		s.Clock = append(s.Clock, day*c.Sigma)
	}
	return &s
}

// end is the length of the recording in seconds.
func (r Run) end() float64 { return float64(r.Recording.Duration) }

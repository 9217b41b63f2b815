package page

import (
	"rundown/analysis/beat"
	"rundown/plotting/chart"
)

// data is what the page's script draws.
type data struct {
	End     float64                  `json:"end"`     // of the recording, s
	Figures map[string]*chart.Figure `json:"figures"` // by role: those to be read closely
	Events  []mark                   `json:"events"`  // in order of time
}

// mark is an event as it is drawn.
type mark struct {
	Kind  beat.Kind `json:"kind"`
	Beat  int64     `json:"beat"`
	Start float64   `json:"start"` // s
	Shift float64   `json:"shift"` // ms
	Row   int       `json:"row"`   // of the table of events, from 1; 0 where it is not in it
}

// newData takes the figures that the page draws itself.
func newData(end float64, shown map[string]*figure) data {
	d := data{End: end, Figures: map[string]*chart.Figure{}, Events: []mark{}}
	for role, f := range shown {
		if f.Close {
			d.Figures[role] = f.chart
		}
	}
	return d
}

// end is the length of the recording in seconds.
func (r Run) end() float64 { return float64(r.Recording.Duration) }

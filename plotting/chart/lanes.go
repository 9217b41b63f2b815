package chart

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/beat"
	"rundown/analysis/prose"
)

// laneHeight is the height of one lane.
const laneHeight vg.Length = 11

const (
	// crowded is above how many events a lane shows numbers instead of marks,
	// which would cover each other.
	crowded = 120
	// laneParts is into how many parts of the run such a lane divides them.
	laneParts = 140
	// mostMarks is how many marks a lane may have: one that would cover another
	// even closely read is left out.
	mostMarks = 4000
	// mostStops is how many stops have their times told.
	mostStops = 5
)

// addLanes puts a panel with one lane for each kind of event that occurred
// under a chart against elapsed time; none where nothing did.
func (f *Figure) addLanes(r Run) {
	main := f.Panels[0]
	p := &Panel{X: main.X, bare: true}
	var kinds []beat.Kind
	for _, kind := range beat.Kinds {
		if len(of(r.Events, kind)) > 0 {
			kinds = append(kinds, kind)
		}
	}
	if len(kinds) == 0 {
		return
	}
	n := float64(len(kinds))
	p.Y, p.height, p.Lanes = Axis{High: n}, vg.Length(n)*laneHeight+2, true
	var most []string
	for i, kind := range kinds {
		events := of(r.Events, kind)
		at := n - float64(i) - 0.5
		p.Y.Ticks = append(p.Y.Ticks, plot.Tick{Value: at, Label: string(kind) + " " + prose.Grouped(int64(len(events)))})
		if least := p.lane(kind, events, at); least != "" {
			most = append(most, least)
		}
	}
	if len(most) > 0 {
		f.note(fmt.Sprintf("Lanes of more than %d events show by height how many fall into each %s; at most %s.",
			crowded, lasting(p.X.High/laneParts), strings.Join(most, ", ")))
	}
	f.note(stopTexts(of(r.Events, beat.Stop), p.X.High))
	main.X.mute, main.Under, p.Under = true, nil, main.Under
	f.Panels = append(f.Panels, p)
	f.height += p.height + gap
}

// lane adds the events of one kind at a height: a mark where each begins, and a
// line for as long as it lasts. Of too many it shows how many there are at a
// time, and tells the most.
func (p *Panel) lane(kind beat.Kind, events []beat.Event, at float64) (most string) {
	s := laneSigns[kind]
	s.Name = string(kind)
	lasting := Area{Ink: s.Ink}
	var shown []float64
	for _, e := range events {
		if p.X.span().contains(e.Start) {
			shown = append(shown, e.Start)
			if n := len(s.X); n == 0 || e.Start-s.X[n-1] > p.X.High/mostMarks {
				s.X, s.Y = append(s.X, e.Start), append(s.Y, at)
			}
		}
		if box := p.upright(span{e.Start, e.End}); kind != beat.Late && kind != beat.Early && kind != beat.Extra && box[2]-box[0] > p.X.High/200 {
			lasting.Boxes = append(lasting.Boxes, [4]float64{box[0], at - 0.06, box[2], at + 0.06})
		}
	}
	if len(shown) > crowded {
		s.Size = 0
		var least int
		lasting.Boxes, least = p.numbers(shown, at)
		most = fmt.Sprintf("%s of %s", prose.Grouped(int64(least)), kind)
	}
	p.Series, p.Areas = append(p.Series, s), append(p.Areas, lasting)
	return most
}

// numbers are boxes as high as there are events in each part of the run, the
// highest as high as a lane, and their greatest number.
func (p *Panel) numbers(times []float64, at float64) (boxes [][4]float64, most int) {
	counts := make([]int, laneParts)
	for _, t := range times {
		i := min(int(t/p.X.High*laneParts), laneParts-1)
		counts[i]++
		most = max(most, counts[i])
	}
	each := p.X.High / laneParts
	for i, n := range counts {
		if n > 0 {
			boxes = append(boxes, [4]float64{float64(i) * each, at - 0.42, float64(i+1) * each, at - 0.42 + 0.84*float64(n)/float64(most)})
		}
	}
	return boxes, most
}

// laneSigns are the marks of the kinds of events; all differ in shape.
var laneSigns = map[beat.Kind]Series{
	beat.Late:   {Mark: Forward, Ink: rust, Size: 2.6},
	beat.Early:  {Mark: Backward, Ink: dark, Size: 2.6},
	beat.Missed: {Mark: Ring, Ink: ink, Size: 2.6},
	beat.Extra:  {Mark: Plus, Ink: ink, Size: 2.6},
	beat.Stop:   {Mark: Box, Ink: ink, Size: 2.6},
	beat.Masked: {Mark: Square, Ink: ink, Size: 2.6},
	beat.Gap:    {Mark: Cross, Ink: ink, Size: 2.6},
}

// stopTexts says when the movement stopped and when it went on.
func stopTexts(stops []beat.Event, total float64) string {
	var said []string
	for _, e := range stops {
		switch {
		case len(said) == mostStops:
			return "Stopped at " + strings.Join(said, ", ") + fmt.Sprintf(" and %s more.", count(len(stops)-mostStops, "time"))
		case e.End >= total:
			said = append(said, clock(e.Start)+" to the end")
		default:
			said = append(said, clock(e.Start)+" to "+clock(e.End))
		}
	}
	if len(said) == 0 {
		return ""
	}
	return "Stopped at " + strings.Join(said, ", ") + "."
}

package main

import (
	"fmt"
	"math"
	"strings"

	"rundown/analysis"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/analysis/train"
	"rundown/plotting/chart"
)

// fewestTurns is how many turns an average over them takes.
const fewestTurns = 3

// turnPictures draws what one turn of each arbor does to the beats, and of
// whatever else comes round most strongly.
func turnPictures(run *analysis.Result, t *train.Train) []picture {
	var pictures []picture
	draw := func(name string, beats float64, teeth int) bool {
		turns := int(float64(run.Beat.Heard) / beats)
		if beats <= 2 || turns < fewestTurns {
			return false
		}
		turn := chart.Turn{Arbor: name, Beats: beats, Teeth: teeth, Turns: turns, Last: run.LastHeard}
		turn.Elsewhere = elsewhere(run.Found, beats)
		for _, p := range run.Faults.Fold(beats, 0).Positions {
			mean := rate.Value{X: p.Mean, SE: p.SE}
			if turn.Elsewhere == nil {
				mean = withLosses(p)
			}
			turn.Mean = append(turn.Mean, mean)
		}
		role := fmt.Sprintf("turn-%d-%s", len(pictures)+1, fileName(name))
		pictures = append(pictures, picture{role, chart.Fold(heading(&run.Summary), turn, run.Found)})
		return true
	}
	var drawn []float64
	if t != nil {
		for i := len(t.Arbors) - 1; i >= 0; i-- {
			beats, _ := t.BeatsPerTurn(i).Float64()
			if draw(t.Title(i), beats, max(t.Arbors[i].Wheel, t.Arbors[i].Escape)) {
				drawn = append(drawn, beats)
			}
		}
	}
	if len(run.Found) > 0 {
		strongest := run.Found[0]
		for _, beats := range drawn {
			if math.Abs(beats/strongest.PeriodBeats-1) < 1e-3 {
				return pictures
			}
		}
		name := strongest.Match
		if name == "" {
			name = fmt.Sprintf("part that turns once in %.6g beats", strongest.PeriodBeats)
		}
		draw(name, strongest.PeriodBeats, 0)
	}
	return pictures
}

// elsewhere returns the recurrence with which events come round where that is not
// a turn of so many beats; nil where it is, or where there is none. They would
// mark places in the turn of an arbor that has nothing to do with them.
func elsewhere(found []fault.Recurrence, beats float64) *fault.Recurrence {
	var other *fault.Recurrence
	for i, r := range found {
		switch {
		case r.Kind != fault.Events:
		case chart.Turn{Beats: beats}.ComesRound(r):
			return nil
		case other == nil:
			other = &found[i]
		}
	}
	return other
}

// withLosses is the mean deviation at a position with the time that late and
// early events lost there, an even share of it in every turn. To the standard
// error comes that of how often they happen.
func withLosses(p fault.Position) rate.Value {
	if p.Events == 0 || p.Beats == 0 {
		return rate.Value{X: p.Mean, SE: p.SE}
	}
	turns := float64(max(p.Beats, p.Events))
	often := float64(p.Events) / turns
	size := p.Lost / float64(p.Events)
	return rate.Value{X: p.Mean + often*size, SE: math.Hypot(p.SE, size*math.Sqrt(often*(1-often)/turns))}
}

// fileName is a name as it may stand in the name of a file on any system.
func fileName(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	return strings.Join(words, "-")
}

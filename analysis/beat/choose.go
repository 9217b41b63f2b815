package beat

import (
	"io"
	"math"
	"slices"

	"rundown/analysis/acquisition"
	"rundown/dsp/filter"
	"rundown/dsp/stats"
	"rundown/dsp/wavio"
)

// A beat's sound is learned from the clearest stretch of so much of a recording, in seconds
// after the one in which it was found, and bytes: while a movement is wound and set up, and somebody
// is in the room, a beat may be heard and its sound hardly be learned.
const (
	chosenSeconds = 600
	chosenBytes   = 40 << 20
)

// Another stretch than the first one that serves is learned from where the room is quieter by so
// much, in power, and, lest that be the recorder's gain, the beat as much clearer: 2 dB, and by a
// quarter.
const (
	plainlyQuieter = 1.6
	plainlyClearer = 1.25
)

// readOn reads what the stretch is chosen from after the one in which a beat was found.
func (f *follower) readOn(channel int) {
	size := 0
	for !f.ended && f.failed == nil && len(f.ahead) < chosenSeconds && size < chosenBytes {
		s := new(wavio.Stored)
		_, err := wavio.Store(f.src, s, channel, f.second())
		if err == nil {
			err = f.ctx.Err()
		}
		f.ahead, size = append(f.ahead, s), size+s.Size()
		if f.ended = err == io.EOF; !f.ended {
			f.failed = err
		}
	}
}

// choose learns the beat that was found in a stretch x of a channel from the stretch in which the
// room is quietest instead, where that is plainly quieter and the beat clearer, and returns how many
// seconds after x that takes in. Of a count that is not quite certain, another stretch is asked in any
// case: if it has another one, the surer one holds.
func (f *follower) choose(channel int, x []float32, e *soundModel) (chosen *soundModel, seconds int) {
	f.readOn(channel)
	own, from, quiet := f.quietest(x, e.band)
	certain := f.found.Odds >= acquisition.MostOdds
	if from < 0 || certain && quiet*plainlyQuieter > own {
		return e, 0
	}
	y := make([]float32, 0, len(x))
	seconds = from + len(x)/f.second()
	for _, s := range f.ahead[from:seconds] {
		y = append(y, make([]float32, s.Len())...)
		s.Samples(y[len(y)-s.Len():], 0)
	}
	turn := f.sound.Turn
	h := f.detect(y)
	f.sound.Turn = turn
	if h == nil {
		return e, 0
	}
	clearer := h.Clear >= plainlyClearer*f.found.Clear
	if surer(f.found, h) == f.found && !(alike(f.found, h) && clearer) {
		return e, 0
	}
	clear := learn(y, f.rate, h, nil)
	if !clear.believable() {
		return e, 0
	}
	for i := range clear.beats {
		clear.beats[i].at += float64(len(x) + from*f.second())
	}
	f.found = h
	return clear, seconds
}

// alike reports whether two hypotheses are of one count.
func alike(a, b *acquisition.Hypothesis) bool { return math.Abs(b.Period/a.Period-1) < 0.02 }

// surer returns which of two hypotheses holds, of two stretches of one movement: the first where
// both have one count, at the greater of their odds, since what speaks against it may do so in both;
// else that of the greater odds, less those of the other.
func surer(a, b *acquisition.Hypothesis) *acquisition.Hypothesis {
	if alike(a, b) {
		a.Odds = max(a.Odds, b.Odds)
		b.Odds = a.Odds
		return a
	}
	if b.Odds > a.Odds {
		a, b = b, a
	}
	a.Odds, a.Rival = a.Odds-b.Odds, b.Period
	return a
}

// quietest returns the energy of the room in the stretch x, by glances in a band, and from which
// of the seconds after it on it is least in as much time, and that; −1 where there is not as much.
// Of a second counts what a quarter of it exceeds: beats do not last as long, what drowns them does.
func (f *follower) quietest(x []float32, band *filter.Band) (own float64, from int, quiet float64) {
	n := len(x) / f.second()
	room := func(s *wavio.Stored) float64 {
		rough := roughEnergies(s, band, f.block)
		slices.Sort(rough)
		return float64(rough[len(rough)*3/4])
	}
	for i := range n {
		own += room(wavio.Floats(x[i*f.second():][:f.second()])) / float64(n)
	}
	rooms := make([]float64, 0, len(f.ahead))
	for _, s := range f.ahead {
		if s.Len() == f.second() {
			rooms = append(rooms, room(s))
		}
	}
	from = -1
	for i := 0; i+n <= len(rooms) && n > 0; i++ {
		if mean := stats.Mean(rooms[i : i+n]); from < 0 || mean < quiet {
			from, quiet = i, mean
		}
	}
	return own, from, quiet
}

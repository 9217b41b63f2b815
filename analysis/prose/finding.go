package prose

import (
	"fmt"
	"math"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
)

// Finding says what the recording told, in two or three plain sentences.
func Finding(s *analysis.Summary) string {
	if s.Status == analysis.NoBeat {
		return strings.TrimSpace("No beat was found, so there is no rate. " + s.HeardInstead)
	}
	return strings.Join([]string{Running(s), steadiness(s), Trouble(s)}, " ")
}

// Running says for how long the movement ran, and whether it stood still.
func Running(s *analysis.Summary) string {
	e := s.Ending
	if e == nil {
		return fmt.Sprintf("The movement was heard for %s.", Span(s.Beat.Last-s.Beat.First))
	}
	ran := Span(e.Last - s.Beat.First)
	text := fmt.Sprintf("The movement ran for %s without a stop", ran)
	if e.Stops > 0 {
		text = fmt.Sprintf("Within %s the movement stood still %s and went on again", ran, times(e.Stops))
	}
	switch {
	case e.Restarts > 0:
		return text + ", and then stopped; " + restarts(e) + "."
	case e.Stopped:
		return text + ", and then stopped for good."
	case e.Hidden == beat.Gap:
		return text + "; what it did from then to the end of the recording is not known: it was not recorded."
	case e.Hidden == beat.Masked:
		return text + "; what it did from then to the end of the recording is not known: the room was too loud."
	}
	return text + "."
}

// restarts says how often the movement went on for a few beats after its run.
func restarts(e *analysis.Ending) string {
	beats := Count(int(e.Beats), "beat", "beats")
	switch {
	case e.Restarts == 1 && e.Stopped:
		return fmt.Sprintf("it started again for %s, and stopped for good", beats)
	case e.Restarts == 1:
		return fmt.Sprintf("it started again for %s, up to the end of the recording", beats)
	case e.Stopped:
		return fmt.Sprintf("it started again %s, for %s in all, and stopped for good", times(e.Restarts), beats)
	}
	return fmt.Sprintf("it started again %s, for %s in all, the last up to the end of the recording", times(e.Restarts), beats)
}

func times(n int) string { return Count(n, "time", "times") }

// tooShort says that there are too few windows for a stable band.
const tooShort = "The run is too short to say how steady its rate is, which takes three whole windows"

// steadiness says where the rate is steady, and what it is there.
func steadiness(s *analysis.Summary) string {
	clock := ""
	if !s.Recording.ClockVerified {
		clock = ", on a recorder's clock that was not checked"
	}
	b := s.StableBand
	if b.TooShort {
		return fmt.Sprintf("%s: the mean rate is %s%s.", tooShort, SignedWithError(s.Rate.Mean, s.Rate.SE, "s/day"), clock)
	}
	if !b.Found {
		return fmt.Sprintf("Its rate is nowhere steady: no stretch stays within %g"+after("s/day")+"; the mean is %s%s.",
			float64(b.Tolerance), SignedWithError(s.Rate.Mean, s.Rate.SE, "s/day"), clock)
	}
	return fmt.Sprintf("Its rate is steadiest from %s to %s: there it is %s in the mean and changes by %s%s.",
		Span(b.Start), Span(b.End), SignedWithError(b.Mean, b.SE, "s/day"), Plain(b.Spread, "s/day"), clock)
}

// Trouble says what most wants attention.
func Trouble(s *analysis.Summary) string {
	hesitations := s.Events[beat.Late] + s.Events[beat.Early]
	switch {
	case len(s.Recurrences) > 0:
		return "What most wants attention " + comesRound(&s.Recurrences[0]) + "."
	case hesitations > 0:
		return fmt.Sprintf("It hesitated %s, which cost it %s"+after("s")+" in all.", times(hesitations), Unsigned(float64(s.Rate.Lost), 3))
	case uneven(s):
		return "It is out of beat: " + BeatError(s) + "."
	}
	return "It never hesitated."
}

// comesRound says what comes round and how often, without the proof of it.
func comesRound(r *analysis.Recurrence) string {
	text := fmt.Sprintf("comes round every %.6g beats", float64(r.PeriodBeats))
	if r.Match != "" {
		text += " with the " + part(r.Match)
	}
	size := fmt.Sprintf("%.3g", float64(r.Size)) + after("ms")
	if r.Kind == "events" {
		return text + fmt.Sprintf(", where the movement hesitates by %s in %d of %s", size, r.Occurrences, Count(r.Opportunities, "turn", "turns"))
	}
	return text + ": within such a turn the beats go early and late by " + size + " in all"
}

// part returns the part of the train in the name of what turns: of "escape
// wheel, one turn" the wheel.
func part(match string) string {
	name, _, _ := strings.Cut(match, ", ")
	return name
}

// uneven reports whether the beat error can be heard.
func uneven(s *analysis.Summary) bool {
	return math.Abs(float64(s.BeatError.Mean))/1000 > outOfBeat*float64(s.Beat.Period)/2
}

// BeatError says how far the movement is out of beat, and which way.
func BeatError(s *analysis.Summary) string {
	e := s.BeatError
	text := WithError(e.Mean, e.SE, "ms")
	if !e.Mean.Known() {
		return text
	}
	than := "more"
	if e.Mean < 0 {
		than = "less"
	}
	return text + fmt.Sprintf(", %.2g%s%% of a beat: tick to tock takes %s"+after("ms")+" %s than tock to tick",
		100*math.Abs(float64(e.Mean))/1000/(float64(s.Beat.Period)/2), space, Unsigned(2*math.Abs(float64(e.Mean)), 2), than)
}

// InBeat says what a beat error of that size means.
func InBeat(s *analysis.Summary) string {
	switch {
	case !s.BeatError.Mean.Known():
		return "The two sides could not be told apart well enough."
	case uneven(s):
		return fmt.Sprintf("It is out of beat: above %g%s%% of a beat the ear hears it limp.", 100*outOfBeat, space)
	}
	return fmt.Sprintf("It is in beat as far as an ear can tell: that begins to hear a limp at about %g%s%% of a beat.", 100*outOfBeat, space)
}

// Held says what the movement would do if it were kept within its stable band.
func Held(s *analysis.Summary) string {
	b := s.StableBand
	if b.TooShort {
		return tooShort + "."
	}
	if !b.Found {
		return "There is no such stretch to hold it in."
	}
	does := "gain"
	if b.Mean < 0 {
		does = "lose"
	}
	return fmt.Sprintf("Held there it would %s %s"+after("s")+" a day as it is regulated now. Regulated by that much, it is left with a rate that changes by %s from one place in the band to another.",
		does, Unsigned(math.Abs(float64(b.Mean)), 1), Plain(b.Spread, "s/day"))
}

package prose

import (
	"fmt"

	"rundown/analysis"
	"rundown/analysis/beat"
)

// Limits past which something is worth a look before all else.
const (
	heardShare = 0.9  // of the beats counted; fewer, and the recording is at fault
	outOfBeat  = 0.02 // beat error over beat interval: plainly uneven to the ear

	leastStopWork = 0.25 // turns; no stop work is cut for fewer
)

// Advice says in one sentence what to look at next.
func Advice(s *analysis.Summary) string {
	b := s.Beat
	hesitations := s.Events[beat.Late] + s.Events[beat.Early]
	switch {
	case s.Status == analysis.NoBeat:
		return "Listen to the recording. If you cannot hear the beat, fix the microphone to the frame or the case and record again; " +
			"if you can, try --channel or cut out the part where it is clear."
	case float64(b.Heard) < heardShare*float64(b.Counted):
		return "The recording: many beats could not be heard. Bring the microphone closer or the room to rest before trusting the figures."
	case len(s.Recurrences) > 0 && s.Recurrences[0].Match != "":
		return fmt.Sprintf("The %s: the strongest fault comes round with it.", part(s.Recurrences[0].Match))
	case len(s.Recurrences) > 0:
		return fmt.Sprintf("What turns once in %.6g beats? Name it with --train or --escape-teeth.", float64(s.Recurrences[0].PeriodBeats))
	case s.Ending != nil && s.Ending.Stops > 0:
		return fmt.Sprintf("Why it stood still %s: %s.", times(s.Ending.Stops), evidence(s))
	case hesitations > 0:
		return fmt.Sprintf("The %s: %s.", Count(hesitations, "hesitation", "hesitations"), evidence(s))
	case uneven(s):
		return "The beat: set the movement in beat, then record again."
	case s.StableBand.TooShort:
		return "A longer recording, or a narrower --window: a stable band takes three whole windows."
	case !s.StableBand.Found:
		return "The rate chart: nothing in the run is steady for long. A wider --tolerance shows the steadiest stretch."
	case !s.Recording.ClockVerified:
		return "The recorder's clock: until it is checked, trust how the rate changes more than its height."
	}
	return "The rate chart, and the rate against amplitude: what is left is the torque and the isochronism."
}

// evidence says where the events can be seen and heard.
func evidence(s *analysis.Summary) string {
	if len(s.Clips) > 0 {
		return "see events.csv and listen to clips"
	}
	return "see events.csv"
}

// Further says what else is worth doing, one sentence each.
func Further(s *analysis.Summary) []string {
	if s.Status == analysis.NoBeat {
		return nil
	}
	var steps []string
	if b := s.Barrel; b != nil && b.BandEnd-b.BandStart >= leastStopWork {
		steps = append(steps, fmt.Sprintf("Stop work that uses turns %.3g to %.3g of the %s, counted from full wind, would keep the movement within its stable band.", float64(b.BandStart), float64(b.BandEnd), b.Name))
	}
	if uneven(s) {
		steps = append(steps, "Set the movement in beat.")
	}
	if !s.Recording.ClockVerified {
		steps = append(steps, "Check the recorder's clock, and give its error with --clock-ppm.")
	}
	return append(steps, "Change one thing at a time, and record again from the same wind.")
}

package prose

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/fitness"
)

// Verdict says in one sentence whether a set-up is fit for a night.
func Verdict(r *fitness.Report) string {
	if r.Fit() {
		return "This set-up is fit for a night."
	}
	return "This set-up is not fit for a night yet: " + What(r.Reasons[0]) + "."
}

// reasons are what may be wrong with a set-up, in words that go on a sentence, and
// what to change, one sentence.
var reasons = map[fitness.Reason]struct{ what, remedy string }{
	fitness.NoBeat: {
		"no steady beat is heard",
		"Bring the microphone to the movement: clamp or putty a contact microphone to the frame or the case, and see that the right device is chosen (rundown record --devices).",
	},
	fitness.Clipped: {
		"the beats are clipped: they go past what the recorder can hold",
		"Lower the recording level until the loudest beat peaks between −20 and −6" + after("dBFS") + ".",
	},
	fitness.TooLoud: {
		fmt.Sprintf("the beats are so loud (above %.0f"+after("dBFS")+") that a louder one will be clipped", fitness.LoudestPeak),
		"Lower the recording level until the loudest beat peaks between −20 and −6" + after("dBFS") + ".",
	},
	fitness.TooQuiet: {
		fmt.Sprintf("the beats are too quiet, below %.0f"+after("dBFS"), fitness.QuietestPeak),
		"Raise the recording level, or bring the microphone closer.",
	},
	fitness.Gated: {
		"the recorder silences the room between the beats, and what is faint of the beats with it",
		"Switch off noise suppression, noise gate and voice modes, in the system's sound settings and on the microphone.",
	},
	fitness.MovingGain: {
		"the recorder's gain moves by itself",
		"Switch off automatic gain (AGC) and compression, in the system's sound settings and on the microphone.",
	},
	fitness.Hum: {
		"hum or a fan is louder than the beat",
		"Keep microphone and cable away from mains wiring, switch off fans, and try another power supply or none.",
	},
	fitness.SecondBeat: {
		"a second clock is heard",
		"Stop the other clock, or take it out of the room.",
	},
	fitness.Lossy: {
		"the sound went through a lossy compression, which moves sounds in time",
		"Record to WAV, by a cable: no MP3 or its like, no wireless microphone, no call.",
	},
	fitness.NarrowBand: {
		"the high frequencies are missing, by which the sounds of a beat are told apart",
		"Record at 44.1 or 48" + after("kHz") + " from a microphone that is not made for telephone calls.",
	},
	fitness.Noisy: {
		"many beats are lost in the noise of the room",
		"Bring the microphone closer, best in touch with the movement, or the room to rest.",
	},
	fitness.LostSamples: {
		"the recorder lost samples, or wrote zeros in their place",
		"Close other programs, record to a disk of the computer itself, and use another port for the microphone.",
	},
}

// What says what is wrong, in words that go on a sentence.
func What(r fitness.Reason) string {
	if said, ok := reasons[r]; ok {
		return said.what
	}
	return string(r)
}

// Remedy says what to change, one sentence; nothing where that is not known.
func Remedy(r fitness.Reason) string { return reasons[r].remedy }

// HeardBeat says what beat a set-up hears, and how surely.
func HeardBeat(r *fitness.Report) string {
	if !r.PerHour.Known() {
		return "none. " + r.Heading
	}
	return fmt.Sprintf("%s an hour, at odds of %s to 1 against any other count; %.0f%s%% of the beats heard",
		PerHour(r.PerHour), powerOfTen(float64(r.CountOdds)), 100*float64(r.Heard), space)
}

func powerOfTen(odds float64) string {
	if odds > 6 {
		return "more than a million"
	}
	return Grouped(int64(math.Pow(10, odds) + 0.5))
}

// Loudness says how loud beats, room and hum are.
func Loudness(r *fitness.Report) string {
	text := ""
	if r.PerHour.Known() {
		text = fmt.Sprintf("tick %s, tock %s over the room (20"+after("dB")+" measure as well as can be); ", whole(r.SNR[0], "dB"), whole(r.SNR[1], "dB"))
	}
	text += fmt.Sprintf("peak %s, room %s", whole(r.Peak, "dBFS"), whole(r.Noise, "dBFS"))
	return text + fmt.Sprintf(", hum and rumble %s", whole(r.LowNoise, "dBFS"))
}

// whole prints a figure without decimals.
func whole(x analysis.Number, unit string) string {
	if !x.Known() {
		return "not known"
	}
	return Unsigned(float64(x), 0) + after(unit)
}

// Contacts says whether the lift is told.
func Contacts(r *fitness.Report) string {
	switch {
	case r.LiftTold:
		return fmt.Sprintf("unlocking and drop are told, %.1f"+after("ms")+" apart", float64(r.Lift))
	case r.Doubt != "":
		return "the lift could not be told: " + r.Doubt
	}
	return "the lift could not be told"
}

// Night says what a night would give.
func Night(r *fitness.Report) string {
	f := &r.Forecast
	if !f.Minute.Known() {
		return "nothing can be said without a beat"
	}
	amplitude := "no amplitude in degrees"
	switch {
	case f.Degrees:
		amplitude = "amplitude in degrees"
	case r.LiftTold:
		amplitude = "the lift time, and amplitude in degrees with --lift-angle"
	}
	return fmt.Sprintf("the rate of each minute to %s, of eight hours to %s, but for the recorder's clock; hesitations from %.2g"+after("ms")+" on; %s",
		share(float64(f.Minute)), share(float64(f.Hours)), float64(f.Least), amplitude)
}

package rate

// Value is a figure with its standard error, in the same unit. A NaN X means
// that there is no figure; a NaN SE that no error could be had. X ± 1.96 SE
// holds the truth 95 times in 100: where SE was estimated from few beats it
// carries Student's factor.
type Value struct{ X, SE float64 }

// Window is one averaging window.
type Window struct {
	Start, End float64    // true seconds since the first sample
	Beats      int        // beats that fell into the window, heard or not
	Heard      int        // of them, those heard
	Period     Value      // two beats, s
	Rate       Value      // s/day, positive when the movement gains
	Smoothed   Value      // rate freed from measurement noise, s/day; see Smooth
	BeatError  Value      // s, half of tick-to-tock minus tock-to-tick
	Jitter     float64    // standard deviation of beat times about the fit, each side on its own, s
	Amplitude  Value      // degrees, seconds of lift time, or dBFS: see AmplitudeKind
	Lift       Value      // lift time, first to last sound of a beat, s; see Mark
	LiftDrift  float64    // standard error, relative, that what is not known of the lift's change leaves to Period; NaN where the lift was not told
	LeastDrift float64    // likewise, as far as a longer run with the same sounds would leave it
	Level      Value      // mean level of the beats heard, both sides counting alike, dBFS
	Stopped    bool       // a stop event touches the window
	grown      float64    // variance of the lift time within the window, s²
	marked     float64    // which part of the standard error of Period is what the marks leave uncertain, squares adding up
	common     float64    // what the mark leaves uncertain of BeatError, s: the same for all windows
	begin, end float64    // times of the first beat and the last, s
	expected   [2]float64 // beat error to be expected at begin and end, s; NaN where that is not known
	share      float64    // by how much the beat error should grow with the lift
	off        float64    // by what part of its growth it may be off
	longer     Value      // by how much the lift should be longer than told by the beat error, s; see contradicted
	oneSided   bool       // the beats of one side are hardly heard in some part of it
}

// AmplitudeKind is what Window.Amplitude holds.
type AmplitudeKind string

// The kinds of amplitude figures, best first.
const (
	Degrees  AmplitudeKind = "degrees"   // greatest swing from rest, degrees
	LiftTime AmplitudeKind = "lift-time" // first to last sound of one beat, s
	Level    AmplitudeKind = "level"     // loudness of the beats, dBFS
)

// Band is the stable band of a run: Windows[First:Last] of it.
type Band struct {
	First, Last int     // half-open range of window indices
	Start, End  float64 // true seconds since the first sample
	Mean        Value   // mean rate, s/day
	Spread      float64 // total width of the smoothed rate within the band, s/day
}

package analysis

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/beat"
)

// Clip is the sound around an event, mono, at the recording's sample rate.
type Clip struct {
	Event   beat.Event
	Start   float64 // of the first sample, true seconds since the recording's first
	Samples []int16
}

// maxClipFrames bounds the memory that clips take: 50 of them fill 13 MB.
const maxClipFrames = 1 << 17

// clipKeeper keeps the clips of the most telling events.
type clipKeeper struct {
	limit int
	clips []Clip // at most limit, most telling first
}

// offer takes a clip, if it is more telling than the least of those kept.
func (k *clipKeeper) offer(ev beat.Event, samples []float32, start, sampleRate float64) {
	at, _ := slices.BinarySearchFunc(k.clips, ev, func(c Clip, ev beat.Event) int { return Telling(c.Event, ev) })
	if at >= k.limit {
		return
	}
	var memory []int16
	if len(k.clips) == k.limit {
		memory = k.clips[k.limit-1].Samples[:0]
		k.clips = k.clips[:k.limit-1]
	}
	samples, start = trim(samples, start, sampleRate, ev.Start)
	for _, x := range samples {
		memory = append(memory, toInt16(x))
	}
	k.clips = slices.Insert(k.clips, at, Clip{Event: ev, Start: start, Samples: memory})
}

// inOrder returns the clips in order of time.
func (k *clipKeeper) inOrder() []Clip {
	slices.SortStableFunc(k.clips, func(a, b Clip) int { return cmp.Compare(a.Event.Start, b.Event.Start) })
	return k.clips
}

// Telling orders events from the one that says most about the movement to the
// one that says least: by kind, then by size, then by time.
func Telling(a, b beat.Event) int {
	return cmp.Or(
		cmp.Compare(tellingOrder(a.Kind), tellingOrder(b.Kind)),
		cmp.Compare(math.Abs(b.Shift), math.Abs(a.Shift)),
		cmp.Compare(b.End-b.Start, a.End-a.Start),
		cmp.Compare(a.Start, b.Start),
	)
}

// tellingOrder puts what the movement did before what the room and the
// recorder did.
func tellingOrder(k beat.Kind) int {
	return slices.Index([]beat.Kind{beat.Stop, beat.Late, beat.Early, beat.Extra, beat.Missed, beat.Gap, beat.Masked}, k)
}

// trim cuts a clip that is too long, leaving the event a third of the way in.
func trim(samples []float32, start, sampleRate, event float64) ([]float32, float64) {
	if len(samples) <= maxClipFrames {
		return samples, start
	}
	first := int((event-start)*sampleRate) - maxClipFrames/3
	first = min(max(first, 0), len(samples)-maxClipFrames)
	return samples[first : first+maxClipFrames], start + float64(first)/sampleRate
}

// toInt16 rounds a sample of full scale ±1 and limits it.
func toInt16(x float32) int16 {
	return int16(min(max(math.RoundToEven(float64(x)*(1<<15)), math.MinInt16), math.MaxInt16))
}

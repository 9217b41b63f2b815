// Package synth makes recordings of movements that do not exist, with the
// truth known. It shares no formula or filter with the analyser, so that a
// figure which both agree on has two independent origins.
//
// It works in two layers. A Movement, on its own, yields the true instant of
// each beat, hours of them in milliseconds. A Recording puts that movement
// into a room, before a microphone and a recorder, and renders the sound:
//
//	rec := synth.Recording{
//		Seed:     1,
//		Duration: 600,
//		Movement: synth.Movement{BeatsPerHour: 18000, BeatError: 0.8e-3, Rate: 12},
//		Room:     synth.Room{Noise: "pink", SNR: 20},
//		Recorder: synth.Recorder{SampleRate: 44100, ClockPPM: 25},
//	}
//	src := rec.Render() // a wavio.Source
//	truth := rec.Truth()
//	fmt.Println(truth.Rate(0, 60), "s/day in the first minute")
//
// Everything random comes from the recording's seed, through one stream for
// each purpose: another jitter, fault or noise moves nothing else.
//
// All times are in seconds, in Go and in recipes; true seconds count from the
// moment at which the recorder starts.
package synth

// Package calibrate measures the error of a recorder's sample clock against a
// signal of known frequency: the tick of a quartz clock, a pulse per second, a
// tone.
//
// The data's way:
//
//  1. Listen reads one channel and finds the instants of the signal, Marks: of
//     ticks and pulses by matched filtering with the sound learnt from them, of
//     a tone by the phase of its demodulation.
//  2. A Series keeps them, in bounded memory.
//  3. Measure fits error and drift, with standard errors that hold for
//     scatter that is not independent from tick to tick too.
//  4. NewCurve smooths them into the recorder's time against true time, for
//     the correction of each beat.
//
// Errors are positive when the recorder's clock runs fast: it takes more
// samples in a true second than it says.
package calibrate

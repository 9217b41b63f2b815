// Package rate turns beats into windows of period, rate, beat error and
// amplitude, each with its standard error, and finds the stable band.
//
// The data's way:
//
//  1. An Accumulator takes batches of beats, cuts them into windows and fits
//     each with a robust straight line.
//  2. Finish, after the last window, refers the mark of the beats to mid-lift
//     (ReferToMidLift), turns lift times into amplitudes (Amplitudes), settles
//     the nominal count (Nominal), and fills in the rates (SetRates) and the
//     smoothed rates (Smooth).
//  3. StableBand finds the longest stretch of steady rate.
//  4. Stability gives Allan and time deviation of the Phase that the
//     Accumulator sampled, and PredictWander what they mean for a day.
package rate

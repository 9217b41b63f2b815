// Package contacts tells the sounds that a beat is made of, unlocking, impulse
// and drop, and with them the lift: how long it takes, how that changes over a
// run, and where its middle, the oscillator's passage through rest, lies against
// the instant by which the beats were found.
//
// It decides late, from everything. The steps, in the data's order:
//
//  1. Stacker lays the beats of either side over each other, block by block,
//     for the whole run in bounded memory.
//  2. Whitener takes out of each stack what the room sounds like, without
//     sounding ahead of its time.
//  3. ridge finds the sound that moves against the mark: as the amplitude
//     falls, all sounds of a beat move apart in proportion.
//  4. profile lays all stacks of the run over each other, each drawn out by as
//     much as its lift is longer, so that every contact stays in one place.
//  5. Read takes the first and last sound of the profile for unlocking and
//     drop, or says why it can't.
//  6. Course is the lift over time, from every contact that can be followed.
//
// Positions are in frames or seconds relative to the mark, positive after it.
package contacts

// Package onset hears beats: how a recording sounds in bands of frequency, how
// suddenly sounds set in, and at which instant a known sound comes, to a
// fraction of a sample.
//
// The steps, in the data's order:
//
//  1. Energy of short blocks in a band (package filter), its Floor and the
//     Strength of onsets.
//  2. NewShaping: the room's spectrum, and the band in which the beat stands
//     out of it.
//  3. Average: many beats laid over each other at the same instant.
//  4. Contacts: the sounds that one beat is made of.
//  5. Matcher: where the sound of a contact comes in a new stretch.
package onset

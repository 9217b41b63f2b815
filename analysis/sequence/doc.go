// Package sequence tells the most probable story of a run's beat times: at which
// beats the movement hesitated or skipped ahead, by how much, and which beats are
// displaced alone. It sees the beats on both sides of everything that it decides.
//
// Between steps, beat i comes at
//
//	phase(i) ± beat error(i)/2 + wheel(i) + noise(i)
//
// where the interval wanders slowly, and may change steadily, as may the beat
// error; wheel is what comes round with the escape wheel without losing time;
// and the noise is white, of a scatter for each side that may change along the
// run, to which the sound adds an error known for each beat.
//
//  1. A run is told in stretches that overlap (Tell). Each is a line of beats
//     that were heard.
//  2. The scatter is found from second differences, of which steps spoil few, and
//     later from the innovations (spread, rescatter); the wheel from the mean
//     increments at each place of a turn, where they differ for sure (wheel). A
//     tooth at which time is lost makes a saw of them, or two groups: what leaps
//     and does not leap back is no part of the wheel (roughly, leaps). Once there
//     is a story, the wheel is fitted together with the course and the steps, and
//     what cannot be told apart is in their errors (fitTeeth).
//  3. A Kalman filter follows the beats forwards and backwards (sweep). Where the
//     two meet, they tell by how much the phase leaps there, if nothing else
//     does, with its error, from all beats before and after (jump): the
//     generalised likelihood ratio of A. S. Willsky and H. L. Jones (IEEE
//     Transactions on Automatic Control 21, 1976), found for all places at once
//     with the shock test of P. de Jong and J. Penzer (JASA 93, 1998). A step is
//     let in as a leap of unknown size, so that all sizes, and the courses
//     between, are estimated together.
//  4. The story is changed where that gains most, one change at a time; what
//     happened close together is then rearranged as a whole wherever that is
//     more probable (settle). A step costs what keeps false ones to falseAnHour;
//     a beat displaced alone costs less.
//  5. That is done with a longer and longer memory, in each part of the stretch
//     as long as it gets more probable (climb). Steps that are dense are found
//     while the memory is short and each stands out from a few beats; small ones
//     when it is long. Where the memory stays short, a phase that walks at random
//     is tried as well (stroll). Where steps come round, they are tried in all turns
//     that follow each other without one (comeRound); and where those at the tooth are
//     of two kinds, in the later ones alone (tellApart): teeth that make a saw look
//     like a step in every turn, and a tooth that costs time in nearly all turns like
//     one that gains some in the others. Which turns have a step costs as much to tell
//     as which have none (gained).
package sequence

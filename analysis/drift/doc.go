// Package drift follows a figure that drifts: its level grows by a slope, and
// the slope wanders as a random walk, so that nothing is assumed of the course
// but that it bends gently. The most likely course through scattered
// observations is then the cubic smoothing spline (G. Wahba, JRSS B 40, 1978);
// it is found, with its errors, in one pass forwards and one back (A. C.
// Harvey, Forecasting, Structural Time Series Models and the Kalman Filter,
// 1989, sections 2.3 and 3.4).
//
//  1. Forwards, State.After carries what is known to the next time, and
//     State.Update takes the observation there in.
//  2. Wander finds how much the slope wanders, by the likelihood of step 1.
//  3. Backwards, State.Gain and State.Back bring what was learnt later to each
//     time.
//
// Where the course begins, breaks, or lacks an observation is the caller's
// business. Units of level and time are the caller's too. The process noise is the
// variance that the slope gains in a unit of time: level² / time³.
package drift

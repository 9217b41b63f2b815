// Package fusee takes a mainspring's torque to what a maker cuts: the turns of
// the barrel that stop-work should keep, and the groove of a fusee that makes the
// torque even.
//
//  1. A torque table measured at the barrel's arbor is read (Parse), or the
//     amplitude of a run stands in for it (Drive.Proxy), and becomes a smooth
//     Curve with its errors.
//  2. StopWork finds for each number of turns the stretch of the wind in which
//     torque, or the rate of a run, changes least, and Recommend the longest one
//     within a tolerance.
//  3. Design finds the Groove: its length is what the barrel takes up, and the
//     torque at the fusee's arbor is even. Carry says what torque a groove gives
//     with any spring and set-up: of the groove as rounded for the lathe, with a
//     stronger spring, with more set-up.
//  4. Even carries the run's own rate through: what rate the movement would keep
//     with that torque.
//
// The physics. The chain does not stretch, and runs off the fusee onto the barrel
// without loss. By the work done, the torque at the fusee's arbor is then the pull
// times the length of chain that a radian of the fusee takes up, and the pull is
// the torque of the barrel over the length that a radian of the barrel takes up.
// That length is the radius, and a little more: the groove is a helix whose radius
// changes, so that it is √(r² + (pitch/2π)² + (dr/dφ)²). On the barrel the coils
// lie side by side, on half the chain's height above the metal. The straight
// stretch of chain between the two is taken to keep its length and its direction:
// that it swings by a few degrees as the radius changes, which shifts the groove by
// some hundredths of a turn, is neglected.
//
// Lengths are millimetres, torques newton-millimetres, rates seconds a day. Turns
// of the barrel are counted as unwound from full wind; turns of the fusee from the
// large end, where a wind ends.
package fusee

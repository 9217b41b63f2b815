// Package recorder tells what the recorder, not the movement, did to the sound:
// where it wrote zeros, and where its gain, its offset or the hum that it picks
// up changed.
//
//   - Zeros finds stretches of digital silence to the sample.
package recorder

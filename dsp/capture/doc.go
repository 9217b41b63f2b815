// Package capture takes sound from a microphone to a file: through the sound
// server's native protocol (PulseAudio, which PipeWire speaks too), through a
// recorder that is installed (arecord, ffmpeg, sox), or from standard input.
//
// A device does not wait. What comes from one lies in a bounded queue until it
// is written; where a disk is so slow that this is full, zeros take the place of
// what is lost, and Lost tells how many and where, so that time stays true.
package capture

// Package wavio reads and writes recordings: WAV, and RF64 or BW64 where they
// are longer than 4 GiB, from files, from parts of one run, or from a stream. It
// also reads Wave64 and big-endian WAV (RIFX).
//
// A night's recording can't be had again, so the readers deliver every frame
// that is there, whatever a broken header says, and tell in Source.Problems
// what they found. Lengths in headers are taken as hints: they bound what is
// read but never what is allocated.
//
// Containers: RIFF/WAVE (Microsoft and IBM, 1991), WAVE_FORMAT_EXTENSIBLE
// (Microsoft, 2001), RF64 (EBU Tech 3306), BW64 (ITU-R BS.2088),
// Wave64 (Sony Pictures Digital, 2003). Encodings: integers, floating point, and
// the laws of ITU-T G.711.
package wavio

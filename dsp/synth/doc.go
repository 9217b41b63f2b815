// Package synth makes recordings of movements that do not exist, with the
// truth known. It shares no formula or filter with the analyser.
package synth

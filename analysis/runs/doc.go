// Package runs holds what is known of a run once it has been analysed, for
// work that comes after: read back from a results folder by Read, or gathered
// from an analysis in memory by Gather.
package runs

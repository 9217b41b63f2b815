// Package environment tells what else was different while a movement ran: what a
// logger wrote of temperature, pressure and the like is set against rate and
// amplitude.
//
//  1. a logger's table is read as it is, and its separators, decimals and times
//     are recognised or told (read.go, fields.go, times.go);
//  2. its figures are brought to the windows of the run by the clock on the wall
//     or by elapsed time (log.go);
//  3. rate and amplitude are regressed on them, with the amplitude, which stands
//     for the wind, as one more cause of the rate, and noise that wanders
//     (relate.go; stats.Series.Regress);
//  4. causes that went together are named together and not told apart.
package environment

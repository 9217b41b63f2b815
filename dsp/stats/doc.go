// Package stats holds the order statistics, and small formulas of their kind,
// that several stages share.
package stats

// Package stats holds the order statistics that several stages share.
package stats

// Package filter holds the one filter that every sample of a recording passes:
// a band-pass, followed by the energy of short blocks.
package filter

package page

import (
	"cmp"
	"fmt"
	"math"

	"rundown/analysis/beat"
)

// mostMarks is how many events the charts show.
const mostMarks = 4000

// inTime orders events by time.
func inTime(a, b beat.Event) int { return cmp.Compare(a.Start, b.Start) }

// clock writes a moment of the run as hours, minutes and seconds.
func clock(seconds float64) string {
	tenths := int64(math.Round(10 * seconds))
	return fmt.Sprintf("%d:%02d:%02d.%d", tenths/36000, tenths/600%60, tenths/10%60, tenths%10)
}

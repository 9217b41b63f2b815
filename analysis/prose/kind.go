package prose

import "rundown/analysis/beat"

// Kind says in one line what happened in events of a kind.
func Kind(k beat.Kind) string {
	switch k {
	case beat.Late:
		return "a beat came late and every later one with it: the movement hesitated"
	case beat.Early:
		return "a beat came early and every later one with it"
	case beat.Missed:
		return "not heard though the room was quiet; the swing went on"
	case beat.Extra:
		return "a sound between two beats that are both in place"
	case beat.Stop:
		return "no beat until the movement started again, or to the end"
	case beat.Masked:
		return "not heard because the room was loud"
	case beat.Gap:
		return "the recorder lost samples or wrote silence"
	}
	return string(k)
}

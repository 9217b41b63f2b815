package fault

import "rundown/analysis/train"

// part is a part of the train that comes round.
type part struct {
	train.Candidate
	period float64 // beats
}

// partsOf lists the parts of a train, none for nil.
func partsOf(t *train.Train) []part {
	if t == nil {
		return nil
	}
	var list []part
	for _, c := range t.Candidates() {
		beats, _ := c.Beats.Float64()
		list = append(list, part{c, beats})
	}
	return list
}

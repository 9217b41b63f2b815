package main

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

// mostMissing is how many parts may be missing between two for their names to
// be taken for numbers at all, and not for times.
const mostMissing = 50

// numbered is the name of a part, about its last number.
type numbered struct {
	before, after string
	number        int64
}

// partNumber takes the name of a recording apart; false where it has no number.
func partNumber(path string) (numbered, bool) {
	stem := filepath.Base(path)
	if ext := filepath.Ext(stem); strings.Trim(ext, ".0123456789") != "" {
		stem = strings.TrimSuffix(stem, ext)
	}
	head := strings.TrimRightFunc(stem, func(r rune) bool { return r < '0' || r > '9' })
	before := strings.TrimRight(head, "0123456789")
	number, err := strconv.ParseInt(head[len(before):], 10, 64)
	return numbered{before, stem[len(head):], number}, err == nil
}

// partProblems says where the numbers in the names of consecutive parts speak
// for one that is missing, or for another order, in whole sentences. Names that
// are not numbered one by one, as by the time of day, say nothing.
func partProblems(paths []string) []string {
	var steps []int64
	for i := 1; i < len(paths); i++ {
		a, ok := partNumber(paths[i-1])
		b, ok2 := partNumber(paths[i])
		if !ok || !ok2 || a.before != b.before || a.after != b.after || b.number-a.number > mostMissing || b.number-a.number < -mostMissing {
			return nil
		}
		steps = append(steps, b.number-a.number)
	}
	var problems []string
	for i, step := range steps {
		first, second := filepath.Base(paths[i]), filepath.Base(paths[i+1])
		switch {
		case step == 2:
			problems = append(problems, fmt.Sprintf("By their numbers, a part is missing between %s and %s: what happened in it is not known, and where they meet the beats may seem to jump.", first, second))
		case step > 2:
			problems = append(problems, fmt.Sprintf("By their numbers, %d parts are missing between %s and %s: what happened in them is not known, and where they meet the beats may seem to jump.", step-1, first, second))
		case step < 1:
			problems = append(problems, fmt.Sprintf("By their numbers, %s does not come after %s: if so, name the parts in the order of their recording.", second, first))
		}
	}
	return problems
}

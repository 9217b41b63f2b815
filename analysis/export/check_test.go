package export

import (
	"bytes"
	"strings"
	"testing"

	"rundown/analysis/fitness"
)

// What would be better changed is said of a set-up that is fit, and does not make it
// unfit.
func TestCheckAdvice(t *testing.T) {
	r := &fitness.Report{Advice: []fitness.Reason{fitness.Hum}}
	var text, fields bytes.Buffer
	if err := CheckText(&text, r, "x.wav", ""); err != nil {
		t.Fatal(err)
	}
	if err := CheckJSON(&fields, r); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"This set-up is fit for a night.", "Better Keep", "mains wiring", "though nothing is lost by it"} {
		if !strings.Contains(strings.Join(strings.Fields(text.String()), " "), want) {
			t.Errorf("%q is missing in\n%s", want, &text)
		}
	}
	for _, want := range []string{`"verdict": "fit"`, `"reasons": []`, `"advice": [`, `"hum"`} {
		if !strings.Contains(fields.String(), want) {
			t.Errorf("%q is missing in\n%s", want, &fields)
		}
	}
}

package trace

import (
	"strings"
	"time"
)

// stampForms are the date and clock forms read in a time column, the date's order
// of day and month left open: only differences of a recording count. Fractions
// of a second are taken after any seconds by the time package.
var stampForms = []string{
	time.RFC3339,
	"2006-01-02T15:04:05",
	"2006-01-02 15:04:05",
	"2006-01-02 15:04:05Z07:00",
	"2006/01/02 15:04:05",
	"2006/01/02T15:04:05",
	"02.01.2006 15:04:05",
	"2.1.2006 15:04:05",
	"02/01/2006 15:04:05",
	"01/02/2006 15:04:05",
	"02-01-2006 15:04:05",
	"15:04:05",
	"01/02/2006 03:04:05 PM",
	"02/01/2006 03:04:05 PM",
	"2006-01-02 03:04:05 PM",
	"03:04:05 PM",
}

// parseStamp returns a date and clock time, or a clock time, in seconds since an
// arbitrary day, and the form that fits; try is the form that fitted last, 0 at first.
func parseStamp(text string, try int) (seconds float64, form int, ok bool) {
	text = strings.TrimSpace(text)
	if len(text) < 5 || strings.IndexByte(text, ':') < 0 {
		return 0, try, false
	}
	if i := strings.LastIndexByte(text, ','); i > 0 {
		text = text[:i] + "." + text[i+1:]
	}
	for k := range stampForms {
		form = (try + k) % len(stampForms)
		if t, err := time.Parse(stampForms[form], text); err == nil {
			if t.Year() == 0 { // a clock time alone
				return t.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)).Seconds(), form, true
			}
			return float64(t.Unix()-stampEpoch) + float64(t.Nanosecond())*1e-9, form, true
		}
	}
	return 0, try, false
}

// stampEpoch (2020-01-01) keeps the numbers small enough for a fraction of a
// microsecond in a float64.
const stampEpoch = 1577836800

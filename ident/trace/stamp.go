package trace

import (
	"strings"
	"time"
)

// stampForms are the date and clock forms read in a time column: every date with
// every clock, and the clocks alone. Whether the day or the month comes first is left
// open, since only differences of a recording count. The time package takes fractions
// of a second after any seconds.
var stampForms = func() (forms []string) {
	dates := []string{
		"2006-01-02 ", "2006-01-02T", "2006/01/02 ", "2006/01/02T", "2006.01.02 ", "2006-01-02-", "20060102T", "20060102 ",
		"2.1.2006 ", "2/1/2006 ", "1/2/2006 ", "2-1-2006 ", "1-2-2006 ", "2-Jan-2006 ", "2 Jan 2006 ", "Jan 2 2006 ",
		"2.1.06 ", "2/1/06 ", "1/2/06 ", "",
	}
	for _, date := range dates {
		for _, clock := range []string{"15:04:05", "15:04:05Z07:00", "15:04:05Z0700", "15:04:05 Z0700", "3:04:05 PM", "3:04:05PM"} {
			forms = append(forms, date+clock)
		}
		if strings.HasPrefix(date, "20060102") {
			forms = append(forms, date+"150405", date+"150405Z0700")
		}
	}
	return forms
}()

// parseStamp returns a date and clock time, or a clock time, in seconds since an
// arbitrary day, and the form that fits; try is the form that fitted last, 0 at first.
func parseStamp(text string, try int) (seconds float64, form int, ok bool) {
	text = strings.TrimSpace(text)
	compact := len(text) >= 15 && (text[8] == 'T' || text[8] == ' ')
	if len(text) < 5 || len(text) > 40 || strings.IndexByte(text, ':') < 0 && !compact {
		return 0, try, false
	}
	text = pointBeforeFraction(strings.ToUpper(text))
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

// pointBeforeFraction writes "12:30:15,250" and "12:30:15:250" as "12:30:15.250" and
// takes a zone's name off.
func pointBeforeFraction(text string) string {
	text = strings.TrimSuffix(strings.TrimSuffix(text, " UTC"), " GMT")
	at := strings.LastIndexAny(text, ",:")
	if at < 0 {
		return text
	}
	first := strings.IndexByte(text, ':')
	third := first >= 0 && first < at && strings.Count(text[first:at], ":") == 2 && !strings.ContainsAny(text[first:at], ".,+-")
	if text[at] == ',' || third {
		text = text[:at] + "." + text[at+1:]
	}
	return text
}

// stampEpoch (2020-01-01) keeps the numbers small enough for a fraction of a
// microsecond in a float64.
const stampEpoch = 1577836800

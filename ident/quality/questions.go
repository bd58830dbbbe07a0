package quality

import (
	"fmt"
	"strings"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// questions asks what only the person at the machine knows.
func questions(views []*view) []string {
	for _, v := range views {
		if v.has(trace.SpeedCommand) {
			return []string{"Was the speed command logged before or after the drive's ramp, limit and filter? If before, the drive's bandwidth, damping and dead time hold those too; log the one that the speed loop receives."}
		}
	}
	return nil
}

// columnQuestions asks which column holds a channel that was not taken because of
// doubt, once for all the logs that leave the same doubt.
func columnQuestions(views []*view) []string {
	var list []string
	logs := map[string]int{}
	first := map[string]string{}
	for _, v := range views {
		for _, g := range v.r.Guesses {
			if !g.Asked || v.t.Has(g.Channel) {
				continue
			}
			q := columnQuestion(g)
			if logs[q]++; logs[q] == 1 {
				list = append(list, q)
				first[q] = v.t.Name()
			}
		}
	}
	for i, q := range list {
		where := first[q]
		if n := logs[q] - 1; n > 0 {
			where += fmt.Sprintf(" and %d more", n)
		}
		list[i] = where + ": " + q
	}
	return list
}

func columnQuestion(g trace.Guess) string {
	unit := g.Unit
	switch unit {
	case "":
		unit = "UNIT"
	case "%":
		unit = "% of 100 " + quantity.Display(g.Channel.Dimension(), quantity.Metric).Symbol
	}
	ask := fmt.Sprintf("is %q the %s, and in which unit?", g.Column, g.Channel.Words())
	switch {
	case len(g.Others) > 0:
		ask = fmt.Sprintf("which column is the %s: %q or %q?", g.Channel.Words(), g.Column, strings.Join(g.Others, `" or "`))
		ask = strings.ReplaceAll(ask, `\"`, `"`)
	case g.Unit != "":
		ask = fmt.Sprintf("is %q the %s?", g.Column, g.Channel.Words())
	}
	return fmt.Sprintf("%s None was taken (%s). State it in the machine file or as --channel '%s=%s[%s]'.", ask, g.Why, g.Channel, g.Column, unit)
}

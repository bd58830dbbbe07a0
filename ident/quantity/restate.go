package quantity

import (
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// Restate returns prose with every quantity in it that stands in a metric unit of
// display given in the system's unit instead: "between 0.5 and 3 mm" becomes "between 0.0197
// and 0.118 in". Numbers keep their significant digits, three at least. Temperatures
// stay, since prose does not tell a temperature from a difference. Metric leaves the text as it is.
func Restate(text string, s System) string {
	if s == Metric || !strings.ContainsAny(text, "0123456789") {
		return text
	}
	// Twice, since two quantities may share the blank between them.
	return restateOnce(restateOnce(text, s), s)
}

func restateOnce(text string, s System) string {
	return stated.ReplaceAllStringFunc(text, func(found string) string {
		part := stated.FindStringSubmatch(found)
		before, list, unit, after := part[1], part[2], part[3], part[4]
		from := restated[unit]
		to := Display(from.Dimension, s)
		numbers := aNumber.ReplaceAllStringFunc(list, func(number string) string {
			v, err := strconv.ParseFloat(number, 64)
			if err != nil {
				return number
			}
			return Digits(to.From(from.SI(v)), max(significant(number), 3))
		})
		return before + numbers + " " + to.Symbol + after
	})
}

// restated are the metric units of display that another system has a unit of its own for.
var restated = func() map[string]Unit {
	list := map[string]Unit{}
	for d, pair := range display {
		if u, ok := LookupAs(pair[0], d); ok && pair[1] != "" && d != Temperature {
			list[u.Symbol] = u
		}
	}
	return list
}()

var aNumber = regexp.MustCompile(`-?\d+(?:\.\d+)?`)

// stated finds numbers, joined by to, and, or or a stroke, before one of the units:
// what stands before them, the numbers, the unit, what stands behind it.
var stated = func() *regexp.Regexp {
	var symbols []string
	for symbol := range restated {
		symbols = append(symbols, regexp.QuoteMeta(symbol))
	}
	slices.Sort(symbols)
	sort.SliceStable(symbols, func(i, j int) bool { return len(symbols[i]) > len(symbols[j]) })
	number := `-?\d+(?:\.\d+)?`
	return regexp.MustCompile(`(^|[^\w.])(` + number + `(?: (?:to|and|or|/) ` + number + `)*) (` + strings.Join(symbols, "|") + `)($|[^\w/²])`)
}()

// significant counts the digits of a number as written, leading zeros apart.
func significant(number string) int {
	digits := strings.TrimLeft(strings.NewReplacer("-", "", ".", "").Replace(number), "0")
	return len(digits)
}

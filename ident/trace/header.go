package trace

import (
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"eha/strokewise/ident/quantity"
)

// heading is a column's header, parted into name and unit.
type heading struct {
	name string // less the unit
	full string // as in the file
	unit string // as written; "" where none
	// again is the number behind the name, such as "#2", where the log has it twice.
	again string
	// loose says that the unit is so short and stands so bare at the end of the
	// name, as in "pressure_A", that it may be part of the name instead.
	loose bool
}

// longestUnit bounds the search for a unit at the end of a header (bytes).
const longestUnit = 24

// parseHeading parts "Rod position [mm]", "Rod position (mm)", "rod_position_mm",
// "Rod position / mm" and "Rod position mm"; unit, where not "", is that of a units row.
func parseHeading(text, unit string) heading {
	full := strings.TrimSpace(text)
	h := heading{name: full, full: full, unit: strings.Trim(strings.TrimSpace(unit), "[]()")}
	if h.unit == "-" {
		h.unit = "1"
	}
	if name, inside, ok := bracketed(full); ok {
		h.name = name
		if h.unit == "" {
			h.unit = inside
		}
		return h
	}
	if h.unit != "" {
		return h
	}
	// The longest tail that is a unit counts, so that "slip_rev_per_s" and "speed
	// 1/min" keep their compound units whole.
	for at := 1; at < len(full); at++ {
		for _, sep := range []string{" / ", ", ", " in ", "_in_", "/", "_", " ", ".", "-"} {
			tail, ok := strings.CutPrefix(full[at:], sep)
			if !ok || len(tail) > longestUnit {
				continue
			}
			if tail == "1" && !strings.ContainsAny(sep, "/,") {
				continue // a number, as in "channel 1"
			}
			tail = strings.ReplaceAll(tail, "_per_", "/")
			if _, ok := quantity.Lookup(tail); ok {
				h.name, h.unit = strings.TrimSpace(full[:at]), tail
				h.loose = sep != " / " && (len([]rune(tail)) == 1 || tail == "in")
				return h
			}
		}
	}
	return h
}

// bracketed cuts a unit in square, round or curly brackets off the end of a
// header. A bracket that holds no unit stays part of the name.
func bracketed(full string) (name, unit string, ok bool) {
	for _, pair := range []string{"[]", "()", "{}", "<>"} {
		open := strings.LastIndexByte(full, pair[0])
		if open < 0 || !strings.HasSuffix(full, pair[1:]) {
			continue
		}
		inside := strings.TrimSpace(full[open+1 : len(full)-1])
		// "bar (a)": the bracket qualifies the unit before it.
		if _, known := quantity.Lookup(inside); !known && pair != "[]" {
			continue
		}
		return strings.TrimSpace(full[:open]), inside, true
	}
	return "", "", false
}

// words cuts a name into lower-case words at spaces, signs, digits and changes to
// upper case.
func words(name string) []string {
	var list []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			list = append(list, fold(string(word)))
			word = nil
		}
	}
	var last rune
	for _, r := range norm.NFC.String(name) {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush()
		case unicode.IsDigit(r) != unicode.IsDigit(last) && len(word) > 0, unicode.IsUpper(r) && unicode.IsLower(last):
			flush()
			word = append(word, r)
		default:
			word = append(word, r)
		}
		last = r
	}
	flush()
	return list
}

// foldedLetters are letters with a stroke or without a dot, which are letters of their own.
var foldedLetters = strings.NewReplacer("ł", "l", "ı", "i", "ø", "o", "đ", "d", "ß", "ss", "æ", "ae")

// fold takes case and accents off a word, since exports often lose them.
func fold(word string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(word)) {
		if !unicode.Is(unicode.Mn, r) {
			b.WriteRune(r)
		}
	}
	return foldedLetters.Replace(b.String())
}

// normalName is a name with separators and case levelled, to compare headers.
func normalName(name string) string { return strings.Join(words(name), "_") }

// numbered makes equal headers different by a number, "Pos", "Pos#2".
func numbered(headings []heading) {
	seen := map[string]int{}
	for i := range headings {
		key := strings.ToLower(headings[i].name)
		seen[key]++
		if n := seen[key]; n > 1 {
			suffix := "#" + strconv.Itoa(n)
			headings[i].name += suffix
			headings[i].again = suffix
		}
	}
}

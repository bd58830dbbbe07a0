package trace

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// exactDigits is how many decimal digits a float64 holds whatever they are.
const exactDigits = 15

// zeroCodes holds by how much n digits entered as their character codes exceed the number they write.
var zeroCodes = [...]uint64{0, '0', '0' * 11, '0' * 111, '0' * 1111, '0' * 11111, '0' * 111111, '0' * 1111111,
	'0' * 11111111, '0' * 111111111, '0' * 1111111111, '0' * 11111111111, '0' * 111111111111, '0' * 1111111111111,
	'0' * 11111111111111, '0' * 111111111111111, '0' * 1111111111111111, '0' * 11111111111111111, '0' * 111111111111111111}

// digits reads the digits at b[i:] and returns the index behind them and the mantissa
// with them appended. They are entered as their character codes, whose excess over the
// number is the caller's to take off: with n digits in all, zeroCodes[n].
func digits(b []byte, i uint, mantissa uint64) (end uint, appended uint64) {
	for ; i < uint(len(b)); i++ {
		c := uint64(b[i])
		if c-'0' > 9 {
			break
		}
		mantissa = c + (mantissa+mantissa<<2)<<1 // ten times in two additions
	}
	return i, mantissa
}

// fastNumber reads a plain decimal number at b[i:] and returns it with the index
// behind it. It takes only what it reads exactly: at most 18 digits with a
// mantissa under 2^53 and a power of ten up to 22, so that one division or
// multiplication by an exact power of ten rounds once, as strconv does.
func fastNumber(b []byte, i int, decimal byte) (v float64, next int, ok bool) {
	negative := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	end, mantissa := digits(b, uint(i), 0)
	n, decimals := int(end)-i, 0
	i = int(end)
	if i < len(b) && b[i] == decimal {
		end, mantissa = digits(b, end+1, mantissa)
		decimals = int(end) - i - 1
		n += decimals
		i = int(end)
	}
	if n == 0 || n >= len(zeroCodes) {
		return 0, i, false
	}
	mantissa -= zeroCodes[n]
	if mantissa >= 1<<53 {
		return 0, i, false
	}
	v = float64(mantissa)
	exponent := -decimals
	if i < len(b) && b[i]|0x20 == 'e' {
		var e int
		if e, i, ok = smallExponent(b, i+1); !ok {
			return 0, i, false
		}
		exponent += e
	}
	switch {
	case exponent < -22 || exponent > 22:
		return 0, i, false
	case exponent < 0:
		v /= pow10[-exponent]
	case exponent > 0:
		v *= pow10[exponent]
	}
	if negative {
		v = -v
	}
	return v, i, true
}

// smallExponent reads an exponent of up to three digits.
func smallExponent(b []byte, i int) (e, next int, ok bool) {
	negative := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	start := i
	for i < len(b) && i-start < 3 {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		e = e*10 + int(d)
		i++
	}
	if negative {
		e = -e
	}
	return e, i, i > start
}

// cellKind says what a cell holds.
type cellKind int

const (
	cellNumber cellKind = iota
	cellEmpty           // nothing, or a word for nothing
	cellReject          // a number-like form that is no measurement: inf, 1_000, 0x1p3, 1e308
	cellWord            // no digit at all, so that it cannot be a number misread: a recorder's own word for no value
	cellText
)

// largest is far above any physical reading in any unit; what is larger is an
// overflow mark and would overflow again in squares.
const largest = 1e30

// slowNumber reads any cell: spaces, exponents, thousands separators where they
// cannot be anything else, words for a missing value.
func slowNumber(text string, decimal byte) (float64, cellKind) {
	if !utf8.ValidString(text) { // the no-break space of Windows-1252
		text = strings.ReplaceAll(text, "\xa0", "\u00a0")
	}
	text = strings.Trim(text, " \t\r\u00a0\u2009\u202f")
	if missingWord(text) {
		return math.NaN(), cellEmpty
	}
	text = strings.Replace(text, "−", "-", 1)
	if rejectWord(text) {
		return math.NaN(), cellReject
	}
	plain, ok := plainNumber(text, decimal)
	if !ok {
		if programmerNumber(text) {
			return math.NaN(), cellReject
		}
		if !strings.ContainsFunc(text, unicode.IsDigit) {
			return math.NaN(), cellWord
		}
		return math.NaN(), cellText
	}
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil || math.Abs(v) > largest {
		return math.NaN(), cellReject
	}
	return v, cellNumber
}

// programmerNumber reports a number as source code has it: 1_000, 0x1p3.
func programmerNumber(text string) bool {
	if !strings.ContainsAny(text, "_xX") || !strings.ContainsAny(text, "0123456789") {
		return false
	}
	plain := strings.ReplaceAll(text, "_", "")
	if _, err := strconv.ParseFloat(plain, 64); err == nil {
		return true
	}
	_, err := strconv.ParseInt(plain, 0, 64)
	return err == nil
}

func missingWord(text string) bool {
	switch strings.ToLower(text) {
	case "", "nan", "-nan", "+nan", "na", "n/a", "#n/a", "null", "none", "nil", "-", "--", "---", "?":
		return true
	}
	return false
}

func rejectWord(text string) bool {
	low := strings.ToLower(strings.TrimLeft(text, "+-"))
	switch low {
	case "inf", "infinity", "∞", "overflow", "ovf", "ovl", "ol", "invalid", "bad", "error", "#div/0!", "#value!", "#num!", "#ref!":
		return true
	}
	return strings.HasPrefix(low, "1.#") || strings.HasPrefix(low, "1,#") || strings.Trim(low, "*") == "" || strings.Trim(low, "#") == ""
}

// plainNumber rewrites a number with the given decimal sign into the form that
// strconv takes, thousands separators removed, and reports whether it is one.
func plainNumber(text string, decimal byte) (string, bool) {
	whole, rest := text, ""
	if i := strings.IndexAny(text, string(decimal)+"eE"); i >= 0 {
		whole, rest = text[:i], text[i:]
	}
	whole, ok := ungroup(whole, decimal)
	if !ok {
		return "", false
	}
	for i := 0; i < len(rest); i++ {
		if c := rest[i]; c != decimal && c != 'e' && c != 'E' && c != '+' && c != '-' && (c < '0' || c > '9') {
			return "", false
		}
	}
	if decimal != '.' {
		rest = strings.Replace(rest, string(decimal), ".", 1)
		if strings.IndexByte(rest, decimal) >= 0 {
			return "", false
		}
	}
	plain := whole + rest
	_, err := strconv.ParseFloat(plain, 64)
	return plain, err == nil || strings.Trim(plain, "+-0123456789.eE") == "" && isRange(err)
}

func isRange(err error) bool {
	n, ok := err.(*strconv.NumError)
	return ok && n.Err == strconv.ErrRange
}

// ungroup removes separators from groups of three digits, such as 1.234.567,
// 1'234 or 1 234. The separator must be one and the same throughout.
func ungroup(whole string, decimal byte) (string, bool) {
	sign := ""
	if whole != "" && (whole[0] == '-' || whole[0] == '+') {
		sign, whole = whole[:1], whole[1:]
	}
	if strings.Trim(whole, "0123456789") == "" {
		return sign + whole, true
	}
	for _, sep := range []string{",", ".", "'", "’", " ", "\u00a0", "\u2009", "\u202f"} {
		if sep == string(decimal) || !strings.Contains(whole, sep) {
			continue
		}
		groups := strings.Split(whole, sep)
		if len(groups[0]) < 1 || len(groups[0]) > 3 || groups[0][0] == '0' {
			return "", false
		}
		for i, g := range groups {
			if strings.Trim(g, "0123456789") != "" || i > 0 && len(g) != 3 {
				return "", false
			}
		}
		return sign + strings.Join(groups, ""), true
	}
	return "", false
}

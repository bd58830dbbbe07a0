package machine

import (
	"errors"
	"fmt"
	"math"

	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
)

// columnKeys are the keys of a channel's table.
var columnKeys = map[string]func(*columnReader, any) error{
	"column":         (*columnReader).column,
	"unit":           (*columnReader).unit,
	"sign":           (*columnReader).sign,
	"counts_per_rev": (*columnReader).countsPerRev,
	"wrap":           (*columnReader).wrap,
	"offset":         (*columnReader).offset,
	"from":           (*columnReader).from,
	"to":             (*columnReader).to,
	"reference":      (*columnReader).reference,
	"full_scale":     (*columnReader).fullScale,
	"period":         (*columnReader).period,
}

// columnReader gathers the table of one channel.
type columnReader struct {
	trace.Column
	dimension quantity.Dimension
	fromUnit  quantity.Unit // of "from", where it names one
	hasFrom   bool
	hasTo     bool
}

// keyError is a fault of one key in a table that is read as a whole.
type keyError struct {
	key string
	err error
}

func (e *keyError) Error() string { return e.key + ": " + e.err.Error() }
func (e *keyError) Unwrap() error { return e.err }

func (m *Machine) setChannel(name string, value any) error {
	c, ok := trace.ParseChannel(name)
	if !ok {
		var names []string
		for _, c := range trace.Channels() {
			names = append(names, c.String())
		}
		return errors.New("unknown channel" + suggest(name, names))
	}
	table, ok := value.(map[string]any)
	if !ok {
		return fmt.Errorf("%s: needs a table such as { column = \"name in the log\", unit = \"mm\" }", describe(value))
	}
	r := &columnReader{dimension: c.Dimension()}
	for _, key := range sortedKeys(table) {
		read, ok := columnKeys[key]
		if !ok {
			return &keyError{key, errors.New("unknown key" + suggest(key, sortedKeys(columnKeys)))}
		}
		if err := read(r, table[key]); err != nil {
			return &keyError{key, err}
		}
	}
	if err := r.finish(c); err != nil {
		return err
	}
	if m.Channels == nil {
		m.Channels = map[trace.Channel]trace.Column{}
	}
	m.Channels[c] = r.Column
	return nil
}

// finish checks what only the whole table shows.
func (r *columnReader) finish(c trace.Channel) error {
	if r.hasFrom != r.hasTo {
		return errors.New("from and to belong together: from = [\"0.5 V\", \"9.5 V\"], to = [\"0 mm\", \"300 mm\"]")
	}
	if err := r.joinFromUnit(); err != nil {
		return err
	}
	if r.hasFrom {
		if r.From[0] == r.From[1] || r.To[0] == r.To[1] {
			return errors.New("from and to need two different points each")
		}
		return nil
	}
	return trace.CheckUnit(c, r.Column)
}

// joinFromUnit brings "from" into the column's own unit.
func (r *columnReader) joinFromUnit() error {
	if r.fromUnit.Factor == 0 {
		return nil
	}
	own := r.fromUnit
	if r.Unit == "" {
		r.Unit = own.Symbol
	} else {
		var ok bool
		if own, ok = quantity.LookupAs(r.Unit, r.fromUnit.Dimension); !ok {
			return fmt.Errorf("from is in %s but unit says %q", r.fromUnit.Symbol, r.Unit)
		}
	}
	for i, v := range r.From {
		r.From[i] = own.From(r.fromUnit.SI(v))
	}
	return nil
}

func (r *columnReader) column(value any) (err error) {
	r.Header, err = readText(value)
	return err
}

func (r *columnReader) unit(value any) (err error) {
	if r.Unit, err = readText(value); err != nil {
		return err
	}
	if _, ok := quantity.Lookup(r.Unit); !ok {
		return fmt.Errorf("unknown unit %.40q, needed one of %v", r.Unit, quantity.Symbols(r.dimension))
	}
	return nil
}

func readText(value any) (string, error) {
	text, ok := value.(string)
	if !ok || text == "" {
		return "", fmt.Errorf("%s: needs a text", describe(value))
	}
	return text, nil
}

func (r *columnReader) sign(value any) error {
	n, ok := value.(int64)
	if !ok || n != 1 && n != -1 {
		return fmt.Errorf("%s: needs 1 or -1", describe(value))
	}
	r.Sign = int(n)
	return nil
}

func readCounts(value any) (float64, error) {
	n, ok := asNumber(value)
	if !ok || !(n >= 1) || n > math.MaxUint64 {
		return 0, fmt.Errorf("%s: needs a plain number of counts, 1 or more", describe(value))
	}
	return n, nil
}

func (r *columnReader) countsPerRev(value any) (err error) {
	r.CountsPerRev, err = readCounts(value)
	return err
}

func (r *columnReader) wrap(value any) (err error) {
	r.Wrap, err = readCounts(value)
	return err
}

func (r *columnReader) offset(value any) (err error) {
	text, ok := value.(string)
	if !ok {
		_, err = readQuantity(value, r.dimension, anySign)
		return err
	}
	r.Offset, err = quantity.ParseDifference(text, r.dimension)
	return err
}

func (r *columnReader) fullScale(value any) (err error) {
	r.FullScale, err = readQuantity(value, r.dimension, positive)
	return err
}

func (r *columnReader) period(value any) (err error) {
	if r.dimension != quantity.Time {
		return errors.New("belongs to time only")
	}
	r.Period, err = readQuantity(value, quantity.Time, positive)
	return err
}

func (r *columnReader) reference(value any) error {
	i, err := readWord(value, "gauge", "absolute")
	if err == nil && r.dimension != quantity.Pressure {
		return errors.New("belongs to pressures only")
	}
	r.Absolute = i == 1
	return err
}

// from reads the two readings of an analogue input: quantities of any one unit, or plain counts.
func (r *columnReader) from(value any) error {
	list, ok := value.([]any)
	if !ok || len(list) != 2 {
		return errors.New("needs a list of two readings, such as [\"0.5 V\", \"9.5 V\"]")
	}
	for i, item := range list {
		v, u, err := readReading(item)
		if err != nil {
			return err
		}
		if i == 1 && u.Dimension != r.fromUnit.Dimension {
			return errors.New("both readings need the same kind of unit")
		}
		if i == 1 && u.Factor != 0 {
			v = r.fromUnit.From(u.SI(v))
			u = r.fromUnit
		}
		r.From[i], r.fromUnit = v, u
	}
	r.hasFrom = true
	return nil
}

func readReading(value any) (float64, quantity.Unit, error) {
	if n, ok := asNumber(value); ok {
		u, _ := quantity.Lookup("counts")
		return n, u, nil
	}
	text, ok := value.(string)
	if !ok {
		return 0, quantity.Unit{}, fmt.Errorf("%s: needs a reading with its unit, or plain counts", describe(value))
	}
	return quantity.ParseAny(text)
}

func (r *columnReader) to(value any) error {
	list, ok := value.([]any)
	if !ok || len(list) != 2 {
		return fmt.Errorf("needs a list of two values in %s", quantity.Display(r.dimension, quantity.Metric).Symbol)
	}
	for i := range r.To {
		v, err := readQuantity(list[i], r.dimension, anySign)
		if err != nil {
			return err
		}
		r.To[i] = v
	}
	r.hasTo = true
	return nil
}

package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
)

// largest is the size above which no number of a document stands for anything on a
// machine in the document's unit; squares of what is below stay finite.
const largest = 1e20

// audit returns an error for what valid JSON may hold and no document of this program
// does: a key twice in one object, of which a reader would take either, and numbers
// that are out of all bounds. Syntax is left to the decoder.
func audit(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var open []object
	for {
		token, err := d.Token()
		if err != nil {
			return nil // the end, or a fault that the decoder has told of
		}
		if n, ok := token.(json.Number); ok {
			if v, err := n.Float64(); err != nil || math.Abs(v) > largest {
				return fmt.Errorf("%.40s is no number of a machine", n)
			}
		}
		switch token {
		case json.Delim('{'):
			open = append(open, object{keys: map[string]bool{}, atKey: true})
			continue
		case json.Delim('['):
			open = append(open, object{})
			continue
		case json.Delim('}'), json.Delim(']'):
			open = open[:len(open)-1]
		}
		if len(open) > 0 {
			if err := open[len(open)-1].take(token); err != nil {
				return err
			}
		}
	}
}

// object is one that audit is inside of, or a list, which has no keys.
type object struct {
	keys  map[string]bool
	atKey bool // the next token is a key
}

// take takes the next key or the end of a value.
func (o *object) take(token json.Token) error {
	if o.keys == nil {
		return nil
	}
	if key, ok := token.(string); ok && o.atKey {
		if o.keys[key] {
			return fmt.Errorf("%.40q stands twice in one object", key)
		}
		o.keys[key] = true
	}
	o.atKey = !o.atKey
	return nil
}

package machine

import (
	"fmt"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"eha/strokewise/ident/trace"
)

// SaveChannels returns the machine file data with the given channels mapped as
// stated; comments, order and everything else of the file stay as they are. A
// channel that the file maps already is replaced where it stands, others are
// added to the [channels] table, which is made where there is none. Empty data
// give a new file.
//
// SaveChannels returns a *FileError if data is no valid machine file, and an error
// if the result would not be one.
func SaveChannels(data []byte, channels map[trace.Channel]trace.Column) ([]byte, error) {
	const file = "machine file"
	if _, err := Parse(data, file); err != nil {
		return nil, err
	}
	out := string(data)
	var added []trace.Channel
	for _, c := range trace.Channels() {
		col, ok := channels[c]
		if !ok {
			continue
		}
		if spots := findChannel([]byte(out), c); len(spots) > 0 {
			out = replaceSpots(out, spots, c, col)
		} else {
			added = append(added, c)
		}
	}
	out = addChannels(out, added, channels)
	if _, err := Parse([]byte(out), file); err != nil {
		return nil, fmt.Errorf("machine: save channels: the file cannot be edited by itself, needed one [channels] table: %w", err)
	}
	return []byte(out), nil
}

// spot is a stretch of the file that states a channel.
type spot struct{ from, to int }

// findChannel returns the stretches that state a channel: one line of
// [channels], or the header and lines of its own table.
func findChannel(data []byte, c trace.Channel) []spot {
	var spots []spot
	var p unstable.Parser
	p.Reset(data)
	var table []string
	own := false
	for p.NextExpression() {
		node := p.Expression()
		at := lineStart(data, keyOffset(&p, node))
		switch node.Kind {
		case unstable.Table:
			table = keyOf(nil, node)
			own = len(table) == 2 && table[0] == "channels" && table[1] == c.String()
			if own {
				spots = append(spots, spot{at, lineEnd(data, at)})
			}
		case unstable.KeyValue:
			path := keyOf(table, node)
			if own || len(path) >= 2 && path[0] == "channels" && path[1] == c.String() {
				spots = append(spots, spot{at, valueEnd(data, at)})
			}
		}
	}
	return spots
}

func keyOf(prefix []string, node *unstable.Node) []string {
	path := append([]string(nil), prefix...)
	for it := node.Key(); it.Next(); {
		path = append(path, string(it.Node().Data))
	}
	return path
}

// keyOffset returns where the first part of an expression's key stands.
func keyOffset(p *unstable.Parser, node *unstable.Node) int {
	if node.Kind != unstable.Table && node.Kind != unstable.ArrayTable && node.Kind != unstable.KeyValue {
		return 0
	}
	it := node.Key()
	it.Next()
	return p.Shape(it.Node().Raw).Start.Offset
}

func lineStart(data []byte, at int) int {
	return strings.LastIndexByte(string(data[:at]), '\n') + 1
}

// lineEnd returns the offset of the line's end, before any CR and LF.
func lineEnd(data []byte, at int) int {
	end := len(data)
	if i := strings.IndexByte(string(data[at:]), '\n'); i >= 0 {
		end = at + i
	}
	if end > at && data[end-1] == '\r' {
		end--
	}
	return end
}

// valueEnd returns where the key and value that begin on the line at offset at
// end, less a comment behind them. Brackets and braces may run over several lines.
func valueEnd(data []byte, at int) int {
	depth, end := 0, at
	for i := at; i < len(data); i++ {
		switch data[i] {
		case '"', '\'':
			i = textEnd(data, i)
			end = i + 1
		case '{', '[':
			depth++
			end = i + 1
		case '}', ']':
			depth--
			end = i + 1
		case '#':
			if depth <= 0 {
				return end
			}
			for i+1 < len(data) && data[i+1] != '\n' {
				i++
			}
		case '\n':
			if depth <= 0 {
				return end
			}
		case ' ', '\t', '\r':
		default:
			end = i + 1
		}
	}
	return end
}

// textEnd returns the offset of the quote that ends the text beginning at i.
func textEnd(data []byte, i int) int {
	quote := data[i]
	if i+2 < len(data) && data[i+1] == quote && data[i+2] == quote {
		end := strings.Index(string(data[i+3:]), strings.Repeat(string(quote), 3))
		return min(i+3+max(end, 0)+2, len(data)-1)
	}
	for i++; i < len(data) && data[i] != quote; i++ {
		if quote == '"' && data[i] == '\\' {
			i++
		}
	}
	return min(i, len(data)-1)
}

// replaceSpots writes the channel in place of what states it now.
func replaceSpots(text string, spots []spot, c trace.Channel, col trace.Column) string {
	sort.Slice(spots, func(i, j int) bool { return spots[i].from > spots[j].from })
	first := spots[len(spots)-1]
	own := strings.HasPrefix(strings.TrimSpace(text[first.from:first.to]), "[")
	for i, s := range spots {
		var by string
		switch {
		case i < len(spots)-1: // gone with its line, but for a comment
			for s.to < len(text) && (text[s.to] == ' ' || text[s.to] == '\t') {
				s.to++
			}
			if s.to < len(text) && text[s.to] == '\r' {
				s.to++
			}
			if s.to < len(text) && text[s.to] == '\n' {
				s.to++
			}
		case own:
			by = "[channels." + c.String() + "]\n" + strings.Join(columnPairs(c, col), "\n")
		default:
			line := text[s.from:s.to]
			indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
			by = indent + keyPrefix(text, s.from, c) + inlineColumn(c, col)
		}
		text = text[:s.from] + by + text[s.to:]
	}
	return text
}

// keyPrefix returns "rod_position = " or, outside the [channels] table, with the
// table's name before it.
func keyPrefix(text string, at int, c trace.Channel) string {
	line := strings.TrimLeft(text[at:], " \t")
	if strings.HasPrefix(line, "channels") {
		return "channels." + c.String() + " = "
	}
	key, _, _ := strings.Cut(line, "=")
	// The file's own alignment of the equals signs stays.
	if strings.TrimSpace(key) != c.String() {
		key = ""
	}
	return c.String() + strings.Repeat(" ", max(1, len(key)-len(c.String()))) + "= "
}

// addChannels puts channels behind the last line of the [channels] table, or into
// a new one at the end.
func addChannels(text string, added []trace.Channel, channels map[trace.Channel]trace.Column) string {
	if len(added) == 0 {
		return text
	}
	end := "\n"
	if strings.Contains(text, "\r\n") {
		end = "\r\n"
	}
	var lines strings.Builder
	for _, c := range added {
		lines.WriteString(c.String() + " = " + inlineColumn(c, channels[c]) + end)
	}
	at, found := tableEnd([]byte(text))
	if !found {
		if text != "" && !strings.HasSuffix(text, "\n") {
			text += end
		}
		return text + "[channels]" + end + lines.String()
	}
	head := text[:at]
	if head != "" && !strings.HasSuffix(head, "\n") {
		head += end
	}
	return head + lines.String() + text[at:]
}

// tableEnd returns the offset behind the last line that belongs to the [channels] table.
func tableEnd(data []byte) (at int, found bool) {
	var p unstable.Parser
	p.Reset(data)
	inside := false
	for p.NextExpression() {
		node := p.Expression()
		start := lineStart(data, keyOffset(&p, node))
		switch node.Kind {
		case unstable.Table, unstable.ArrayTable:
			path := keyOf(nil, node)
			inside = len(path) == 1 && path[0] == "channels"
			if inside {
				at, found = nextLine(data, lineEnd(data, start)), true
			}
		case unstable.KeyValue:
			if inside {
				at = nextLine(data, lineEnd(data, valueEnd(data, start)))
			}
		}
	}
	return at, found
}

func nextLine(data []byte, end int) int {
	for end < len(data) && data[end] == '\r' {
		end++
	}
	if end < len(data) && data[end] == '\n' {
		end++
	}
	return end
}

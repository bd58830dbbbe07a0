// Package samples holds the demo machine: an invented machine in a scenario of
// our own, with its logs made by the simulator in samples/twin. Nothing in it was
// measured on a real machine, and no figure of it is good for one.
package samples

import (
	"bytes"
	"compress/gzip"
	"embed"
	"io"
	"strings"
)

//go:generate go run ./generate
//go:generate go run ./precompute

//go:embed data
var data embed.FS

// Scenario tells what the demo machine is, for screens and reports.
const Scenario = `Invented demo machine: the rib press of the imaginary boatyard at Hollowmere.
An upright cylinder lifts a former of 900 kg and presses strips of wood against a
fixed beam. Its logs come from a simulator; no real machine stands behind them.`

// Log is one recording of the demo machine.
type Log struct {
	Name string // "survey.csv"
	// Open returns the log's CSV text from its beginning.
	Open func() io.Reader
}

// MachineFile returns the demo machine's file (TOML).
func MachineFile() []byte { return unpack("machine.toml.gz") }

// AsFound returns the loop settings in use when the closed-loop logs were made
// (JSON, strokewise.loops/1).
func AsFound() []byte { return unpack("asfound.json.gz") }

// Truth returns the demo machine's true parameters (JSON): what the simulator was
// given, with the range that the definitions allow.
func Truth() []byte { return unpack("truth.json.gz") }

// Plant returns the plant fitted to the demo machine's logs (JSON,
// strokewise.plant/1), so that it need not be fitted at every start.
func Plant() []byte { return unpack("plant.json.gz") }

// IsLog reports whether the SHA-256 (hexadecimal) is that of one of the demo machine's logs.
func IsLog(sum string) bool {
	return len(sum) == 64 && strings.Contains(string(unpack("sums.txt.gz")), sum)
}

// Logs returns the demo machine's logs: the survey of all test moves, a run with
// the position loop as found, and a pressing run.
func Logs() []Log {
	entries, err := data.ReadDir("data")
	if err != nil {
		panic("samples: the embedded folder is missing")
	}
	var logs []Log
	for _, name := range []string{"survey.csv", "asfound.csv", "press.csv"} {
		for _, e := range entries {
			if e.Name() == name+".gz" {
				logs = append(logs, Log{name, func() io.Reader { return open(name + ".gz") }})
			}
		}
	}
	return logs
}

// After returns the log of another day, after the position loop was tuned.
func After() Log {
	return Log{"after.csv", func() io.Reader { return open("after.csv.gz") }}
}

// open returns the unpacked content; the embedded files are ours, so a fault in
// them is a fault of the build.
func open(name string) io.Reader {
	packed, err := data.ReadFile("data/" + name)
	if err != nil {
		panic("samples: " + strings.TrimSuffix(name, ".gz") + " is not embedded")
	}
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic("samples: an embedded file is damaged")
	}
	return r
}

func unpack(name string) []byte {
	text, err := io.ReadAll(open(name))
	if err != nil {
		panic("samples: an embedded file is damaged")
	}
	return text
}

// Package job is the work on one machine's files from end to end: open, read,
// check, fit, propose, save. It is where the numeric packages meet the file
// system; the terminal program and the commands both stand on it.
package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples"
	"eha/strokewise/tuning/law"
	"eha/strokewise/tuning/record"
)

// Source names what to work on.
type Source struct {
	Machine string   // path of the machine file; "" for none
	Logs    []string // paths; a pattern such as "*.csv" that names no file stands for all it matches; "-" is Stdin, "A.csv+B.csv" joins two recordings of one move; a plant file may stand alone
	AsFound string   // path of the settings in use when the logs were made; "" where not given
	Period  float64  // s, sample period of logs without time; 0 where not stated
	// Columns overrides the machine file's mapping, channel by channel.
	Columns map[trace.Channel]trace.Column
	// LeftOut are the stretches of a log to leave out, by its path.
	LeftOut map[string][]trace.Stretch
	Stdin   io.Reader
}

// Progress is told what is being done and which share of it is done, 0 to 1.
// It may be called from any goroutine.
type Progress func(what string, done float64)

// Job is one machine with its logs read, or with a plant fitted before.
type Job struct {
	Machine     machine.Machine
	MachineFile string // path, "" for none
	Readings    []*trace.Reading
	Plant       *plant.Plant // not nil where a plant file stood in place of logs
	AsFound     *law.Loops   // nil where not given
	Demo        bool
}

// FileError is a file that could not be read or was rejected; its text is one line.
type FileError struct {
	Path string
	Err  error
}

// Error returns the fault in one line, with what to do where that helps.
func (e *FileError) Error() string { return e.Err.Error() }

// Unwrap returns the fault itself.
func (e *FileError) Unwrap() error { return e.Err }

// Open reads the machine file, the as-found settings and the logs. Every fault
// of a file is a *FileError; a cancelled context gives its own error.
func Open(ctx context.Context, source Source, progress Progress) (*Job, error) {
	if progress == nil {
		progress = func(string, float64) {}
	}
	j := &Job{MachineFile: source.Machine}
	m, err := readMachine(source.Machine)
	if err != nil {
		return nil, err
	}
	j.Machine = *m
	if source.AsFound != "" {
		data, err := readSmall(source.AsFound)
		if err != nil {
			return nil, err
		}
		if j.AsFound, err = record.DecodeLoops(data, filepath.Base(source.AsFound)); err != nil {
			return nil, &FileError{source.AsFound, err}
		}
	}
	if p, err := plantAlone(source.Logs); p != nil || err != nil {
		j.Plant = p
		return j, err
	}
	logs := reader{stdin: source.Stdin, known: options(m, source)}
	paths := expand(source.Logs)
	for i, path := range paths {
		share := func(done float64) {
			progress("reading "+filepath.Base(path), (float64(i)+done)/float64(len(paths)))
		}
		reading, err := logs.log(ctx, path, share)
		if err != nil {
			return nil, err
		}
		for _, s := range source.LeftOut[path] {
			if err := reading.LeaveOut(s); err != nil {
				return nil, &FileError{path, err}
			}
		}
		j.Readings = append(j.Readings, reading)
		j.Demo = j.Demo || samples.IsLog(reading.SHA256)
	}
	trace.ShareZero(j.Readings, logs.known)
	return j, nil
}

// readMachine reads the machine file, an empty machine where none is named.
func readMachine(path string) (*machine.Machine, error) {
	if path == "" {
		return &machine.Machine{}, nil
	}
	data, err := readSmall(path)
	if err != nil {
		return nil, err
	}
	m, err := machine.Parse(data, filepath.Base(path))
	if err != nil {
		return nil, &FileError{path, err}
	}
	return m, nil
}

// options are what is known of the source's logs beforehand.
func options(m *machine.Machine, source Source) trace.ReadOptions {
	return trace.ReadOptions{Columns: Mapped(m.Channels, source.Columns), Period: source.Period, Stroke: m.Cylinder.Stroke}
}

// Mapped lays corrections over a machine file's mapping, channel by channel. One
// that states nothing but the sample period leaves which column holds time as it is.
func Mapped(file, corrections map[trace.Channel]trace.Column) map[trace.Channel]trace.Column {
	all := maps.Clone(file)
	if all == nil {
		all = map[trace.Channel]trace.Column{}
	}
	for c, column := range corrections {
		if column == (trace.Column{Period: column.Period}) {
			column = all[c]
			column.Period = corrections[c].Period
		}
		all[c] = column
	}
	return all
}

// Traces returns the logs' traces in the order of the logs.
func (j *Job) Traces() []*trace.Trace {
	var traces []*trace.Trace
	for _, r := range j.Readings {
		traces = append(traces, r.Trace)
	}
	return traces
}

// plantAlone returns the plant if the one path given is a plant file, nil if not.
func plantAlone(paths []string) (*plant.Plant, error) {
	if len(paths) != 1 || !strings.HasSuffix(strings.ToLower(paths[0]), ".json") {
		return nil, nil
	}
	return ReadPlant(paths[0])
}

// ReadPlant reads a plant file written by fit --json. Faults are *FileError.
func ReadPlant(path string) (*plant.Plant, error) {
	data, err := readSmall(path)
	if err != nil {
		return nil, err
	}
	p, err := record.DecodePlant(data, filepath.Base(path))
	if err != nil {
		return nil, &FileError{path, err}
	}
	return p, nil
}

// readSmall reads a whole file that a person wrote or this program saved.
func readSmall(path string) ([]byte, error) {
	const most = 64 << 20
	f, err := os.Open(path)
	if err != nil {
		return nil, &FileError{path, openFault(path, err)}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, &FileError{path, openFault(path, err)}
	}
	if len(data) > most {
		return nil, &FileError{path, fmt.Errorf("%s: larger than %d MB, which no machine, settings or plant file is", filepath.Base(path), most>>20)}
	}
	return data, nil
}

// openFault words the system's error as found and what to do.
func openFault(path string, err error) error {
	name := trace.Printable(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: no such file; check the name and the folder", name)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: may not be read; check the file's permissions", name)
	}
	if info, statErr := os.Stat(path); statErr == nil && info.IsDir() {
		return fmt.Errorf("%s: is a folder, expected a file; name the logs inside it, such as %s", name, trace.Printable(filepath.Join(path, "*.csv")))
	}
	return fmt.Errorf("%s: %w", name, Cause(err))
}

package job

import (
	"context"
	"os"
	"path/filepath"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/trace"
	"eha/strokewise/samples"
	"eha/strokewise/tuning/record"
)

// OpenDemo reads the bundled demo machine as Open reads files.
func OpenDemo(ctx context.Context, progress Progress) (*Job, error) {
	m, err := machine.Parse(samples.MachineFile(), "demo machine")
	if err != nil {
		return nil, err
	}
	j := &Job{Machine: *m, Demo: true}
	if j.AsFound, err = record.DecodeLoops(samples.AsFound(), "demo settings"); err != nil {
		return nil, err
	}
	return j, j.readDemo(ctx, samples.Logs(), progress)
}

// OpenDemoAfter reads the demo machine's log of another day, after its position loop was tuned.
func OpenDemoAfter(ctx context.Context, progress Progress) (*Job, error) {
	m, err := machine.Parse(samples.MachineFile(), "demo machine")
	if err != nil {
		return nil, err
	}
	j := &Job{Machine: *m, Demo: true}
	return j, j.readDemo(ctx, []samples.Log{samples.After()}, progress)
}

func (j *Job) readDemo(ctx context.Context, logs []samples.Log, progress Progress) error {
	for i, l := range logs {
		if progress != nil {
			progress("reading the demo's "+l.Name, float64(i)/float64(len(logs)))
		}
		r, err := trace.Read(ctx, l.Open(), l.Name, trace.ReadOptions{Columns: j.Machine.Channels})
		if err != nil {
			return err
		}
		j.Readings = append(j.Readings, r)
	}
	return nil
}

// WriteDemo writes the demo machine's logs, machine file and as-found settings
// into the folder, which must exist, and its log of another day into a folder
// beside them. It never replaces a file.
func WriteDemo(dir string) (names []string, err error) {
	files, err := demoFiles()
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if path := filepath.Join(dir, f.name); exists(path) {
			return nil, &FileError{path, alreadyThere(path)}
		}
	}
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return names, &FileError{path, openFault(path, err)}
		}
		if err := Save(path, f.data); err != nil {
			return names, &FileError{path, err}
		}
		names = append(names, f.name)
	}
	return names, nil
}

// DemoPlant returns the demo machine's plant as it was fitted beforehand.
func DemoPlant() (*plant.Plant, error) {
	p, err := record.DecodePlant(samples.Plant(), "demo plant")
	if err != nil {
		return nil, err
	}
	p.Demo = true
	return p, nil
}

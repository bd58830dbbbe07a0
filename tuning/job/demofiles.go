package job

import (
	"fmt"
	"io"
	"path/filepath"

	"eha/strokewise/samples"
)

type demoFile struct {
	name string
	data []byte
}

func demoFiles() ([]demoFile, error) {
	files := []demoFile{{"machine.toml", samples.MachineFile()}, {"asfound.json", samples.AsFound()}}
	add := func(folder string, l samples.Log) error {
		data, err := io.ReadAll(l.Open())
		if err != nil {
			return fmt.Errorf("demo: %s: %w", l.Name, err)
		}
		files = append(files, demoFile{filepath.Join(folder, l.Name), data})
		return nil
	}
	for _, l := range samples.Logs() {
		if err := add("", l); err != nil {
			return nil, err
		}
	}
	// The other state is kept apart, so that nobody fits both together by mistake.
	if err := add("after", samples.After()); err != nil {
		return nil, err
	}
	return files, nil
}

func alreadyThere(path string) error {
	return fmt.Errorf("%s: is there already and is not replaced; name an empty folder", path)
}

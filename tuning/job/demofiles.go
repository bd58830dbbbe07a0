package job

import (
	"fmt"
	"io"

	"eha/strokewise/samples"
)

type demoFile struct {
	name string
	data []byte
}

func demoFiles() ([]demoFile, error) {
	files := []demoFile{{"machine.toml", samples.MachineFile()}, {"asfound.json", samples.AsFound()}}
	for _, l := range samples.Logs() {
		data, err := io.ReadAll(l.Open())
		if err != nil {
			return nil, fmt.Errorf("demo: %s: %w", l.Name, err)
		}
		files = append(files, demoFile{l.Name, data})
	}
	return files, nil
}

func alreadyThere(path string) error {
	return fmt.Errorf("%s: is there already and is not replaced; name an empty folder", path)
}

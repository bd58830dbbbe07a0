// Command generate makes the demo machine's embedded files anew; run it by
// go generate ./samples after a change of the simulator.
package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"eha/strokewise/samples/twin"
)

func main() {
	if err := write("data"); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

// sums lists the SHA-256 of every log, one a line, so that results from the demo's
// logs can be told from a real machine's.
func sums(files map[string][]byte) []byte {
	var lines []string
	for name, text := range files {
		if strings.HasSuffix(name, ".csv") {
			lines = append(lines, fmt.Sprintf("%x  %s", sha256.Sum256(text), name))
		}
	}
	sort.Strings(lines)
	return []byte(strings.Join(lines, "\n") + "\n")
}

// write packs every file into dir. The packed header holds neither name nor
// time, so that the same content gives the same bytes.
func write(dir string) error {
	files, err := twin.DemoFiles()
	if err != nil {
		return err
	}
	files["sums.txt"] = sums(files)
	for name, text := range files {
		var packed bytes.Buffer
		w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := w.Write(text); err != nil {
			return err
		}
		if err := w.Close(); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, name+".gz"), packed.Bytes(), 0o644); err != nil {
			return err
		}
	}
	return nil
}

package bench

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"eha/strokewise/tui"
)

// most is the number of entries of a folder that are looked at, so that a huge
// one cannot hold the screens up.
const most = 2000

// folder lists what the program can open: logs first, then machine files, plants
// and settings, and the folders at the end.
func folder(dir string) ([]tui.File, error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	defer d.Close()
	entries, err := d.ReadDir(most)
	if err != nil && err != io.EOF {
		return nil, err
	}
	var files []tui.File
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			continue
		}
		path := filepath.Join(dir, e.Name())
		// Stat follows links, as opening will.
		info, err := os.Stat(path)
		if err != nil {
			continue
		}
		kind, ok := kindOf(path, info)
		if !ok {
			continue
		}
		files = append(files, tui.File{Name: e.Name(), Path: path, Kind: kind, Size: info.Size(), Changed: info.ModTime()})
	}
	rank := map[tui.FileKind]int{tui.LogFile: 0, tui.MachineFile: 1, tui.SettingsFile: 2, tui.PlantFile: 3, tui.FolderFile: 4}
	sort.Slice(files, func(i, j int) bool {
		if a, b := rank[files[i].Kind], rank[files[j].Kind]; a != b {
			return a < b
		}
		return files[i].Name < files[j].Name
	})
	return files, nil
}

// kindOf tells by name, and for JSON by its first bytes, what a file is.
func kindOf(path string, info os.FileInfo) (tui.FileKind, bool) {
	if info.IsDir() {
		return tui.FolderFile, true
	}
	if !info.Mode().IsRegular() {
		return 0, false
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv", ".txt", ".tsv", ".asc":
		return tui.LogFile, true
	case ".toml":
		return tui.MachineFile, true
	case ".json":
		head := beginning(path)
		switch {
		case bytes.Contains(head, []byte("strokewise.plant/")):
			return tui.PlantFile, true
		case bytes.Contains(head, []byte("strokewise.loops/")):
			return tui.SettingsFile, true
		}
	}
	return 0, false
}

// beginning returns the first bytes of a file, none where it cannot be read.
func beginning(path string) []byte {
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	head := make([]byte, 256)
	n, _ := io.ReadFull(f, head)
	return head[:n]
}

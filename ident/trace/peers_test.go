package trace

import (
	"context"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkReadFile reads the 44 MB log that the comparison with general tools
// uses, from the file to a checked Trace. STROKEWISE_PEERS names the folder that
// ../shared/peers/make_input.sh filled.
func BenchmarkReadFile(b *testing.B) {
	dir := os.Getenv("STROKEWISE_PEERS")
	if dir == "" {
		b.Skip("STROKEWISE_PEERS names no folder")
	}
	for b.Loop() {
		f, err := os.Open(filepath.Join(dir, "log.csv"))
		if err != nil {
			b.Fatal(err)
		}
		info, err := f.Stat()
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(info.Size())
		r, err := Read(context.Background(), f, "log.csv", ReadOptions{Size: info.Size()})
		if err != nil || r.Trace.Len() != 600_000 {
			b.Fatal(err)
		}
		_ = f.Close()
	}
}

// Command precompute fits the demo machine's logs and embeds the plant, so that
// the program opens on it at once; run it by go generate ./samples after a change
// of the logs or of the fit.
package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"os"

	"eha/strokewise/tuning/job"
	"eha/strokewise/tuning/record"
)

func main() {
	if err := write("data/plant.json.gz"); err != nil {
		fmt.Fprintln(os.Stderr, "precompute:", err)
		os.Exit(1)
	}
}

func write(path string) error {
	ctx := context.Background()
	j, err := job.OpenDemo(ctx, nil)
	if err != nil {
		return err
	}
	p, err := j.Fit(ctx, nil)
	if err != nil {
		return err
	}
	text, err := record.EncodePlant(p)
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	_, err = w.Write(text)
	if err = errors.Join(err, w.Close()); err != nil {
		return err
	}
	return os.WriteFile(path, packed.Bytes(), 0o644)
}

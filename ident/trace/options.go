package trace

// ReadOptions says what is known about a log beforehand; the zero value leaves
// everything to the file.
type ReadOptions struct {
	// Columns states channels. A stated column that the log lacks is no error: the
	// channel is absent.
	Columns map[Channel]Column
	// Period (s) is the sample period of a log that holds no time, or a sample index
	// only; 0 takes that of Columns[Time].
	Period float64
	// Stroke (m) of the cylinder where known: then a rod position whose offset is not
	// stated takes its zero from the end stops, if the log reaches both.
	Stroke float64
	// Size (bytes) of the log where known, so that memory is taken once; 0 for unknown.
	Size int64
	// MaxValues limits the numbers kept in memory; 0 means 60 million (480 MB), and
	// half as many where Size is unknown, since columns that grow are there twice.
	MaxValues int
	// Progress, where not nil, is called from the reading goroutine with the bytes read so far.
	Progress func(bytes int64)
}

const defaultMaxValues = 60_000_000

func (o ReadOptions) maxValues() int {
	switch {
	case o.MaxValues > 0:
		return o.MaxValues
	case o.Size <= 0:
		return defaultMaxValues / 2
	}
	return defaultMaxValues
}

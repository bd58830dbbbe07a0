package trace

import (
	"fmt"
	"math"
)

// Reading is a log as it was read: the Trace, how each column was understood,
// and the facts about the raw rows that a judgement of the log needs. All texts
// taken from the file are free of control characters.
type Reading struct {
	Trace *Trace

	SHA256 string // of the raw bytes, in hexadecimal
	Bytes  int64
	Rows   int // rows of data
	Layout Layout
	Clock  Clock

	// Guesses holds one entry per column that could be a channel, taken or asked.
	Guesses []Guess
	// Unused lists the headers of the columns that were left aside.
	Unused []string
	// Absent lists the channels whose stated column the log does not hold.
	Absent []Channel

	Bridged map[Channel]int // missing samples in runs of at most three, bridged by a straight line
	Lost    map[Channel]int // missing samples in longer runs, now inside gaps
	// Rejected lists the first cells that held something other than a usable number, with Rejects their count.
	Rejected []Cell
	Rejects  int
	Spikes   []Spike
	Dropouts []Dropout
	Wrap     Wrap
	Held     []Held
	// ZeroShift (m) is what was added to the rod position and its command, so that
	// fully retracted reads zero as the end stops show; 0 where nothing was.
	ZeroShift float64
	ZeroFrom  string // name of the log whose stops show it; "" for this one
	// LeftOut are stretches that LeaveOut took out of the trace.
	LeftOut []Stretch
	// Joint says how two recordings were set on one clock; nil for one recording.
	Joint *Joint
	// Resolution is the smallest step of each channel (SI); absent where no step was found.
	Resolution map[Channel]float64
}

// Stretch is a part of a log (s, on the trace's clock).
type Stretch struct{ From, To float64 }

// LeaveOut makes a gap of the samples from one time to another (s, on the trace's
// clock), so that nothing is found from them. It returns an error if less than a tenth of the log
// would be left.
func (r *Reading) LeaveOut(s Stretch) error {
	t := r.Trace
	at := func(time float64) int {
		return int(math.Round(math.Min(math.Max((time-t.TimeAt(0))/t.Period(), -1), float64(t.Len()))))
	}
	span := Span{max(at(s.From), 0), min(at(s.To)+1, t.Len())}
	if span.Len() <= 0 {
		return nil // it lies outside the log
	}
	with := t.WithGaps([]Span{span})
	left := t.Len()
	for _, g := range with.Gaps() {
		left -= g.Len()
	}
	if left*10 < t.Len() {
		return fmt.Errorf("trace: %s: without %.3f to %.3f s less than a tenth of the log is left", t.Name(), s.From, s.To)
	}
	r.Trace = with
	r.LeftOut = append(r.LeftOut, s)
	return nil
}

// Layout is the form of the file.
type Layout struct {
	Encoding  string // "UTF-8", "UTF-16LE", "UTF-16BE" or "Windows-1252"
	Delimiter byte
	Decimal   byte // '.' or ','
	Preamble  []string
	HeaderRow int // line of the header, from 1; 0 where there is none
	UnitsRow  int // line of the units row; 0 where there is none
	FirstRow  int // line of the first row of data
	Headers   []string
	// Skipped counts the lines between and after the data that hold none: blank
	// lines, repeated headers, trailers, rows cut short.
	Skipped int
	Repeats int // header rows met again within the data
	// NewestFirst says that the rows came with the last one first; they were turned round.
	NewestFirst bool
}

// Clock says what the log's time column told.
type Clock struct {
	Has    bool    // the log holds time or a sample index
	Index  bool    // it is a sample index, multiplied by the stated period
	Period float64 // s
	Jitter float64 // s, standard deviation of the stamps about the uniform grid
	// StampsOnly reports that the jitter is in the stamps, not in the sampling: the
	// samples lie more smoothly at even distances than at their stamps, and were left there.
	StampsOnly bool
	Missing    []Block
	// Backward lists when a row's stamp went back or a row came twice (s): what came
	// twice was dropped, neighbours in the wrong order were exchanged, and a wrong
	// stamp in a row that is in its place was passed over.
	Backward []float64
	Restarts []float64 // s, trace time at which the log's time began anew
}

// Block is a stretch of rows that the log lacks: the last row before it and the
// first after (s, on the trace's clock), and how many are missing.
type Block struct {
	From, To float64
	Rows     int
}

// Guess says which column was taken for a channel, and why.
type Guess struct {
	Channel Channel
	Column  string  // header, less its unit
	Index   int     // of the column, from 0
	Unit    string  // as used
	Sure    float64 // 0 to 1; 1 where stated by the user
	Why     string
	Stated  bool // by the machine file or the command line
	// Asked means that the column was not taken, because Others or another channel
	// could be meant as well; a stated channel settles it.
	Asked  bool
	Others []string // columns that could hold the channel as well
	Rivals []string // what speaks for each of Others
}

// Cell is one cell of the file.
type Cell struct {
	Row    int // line of the file, from 1
	Column string
	Text   string
}

// Spike is a short run of samples far outside both neighbours and the noise, bridged.
type Spike struct {
	Channel Channel
	Time    float64 // s
	Value   float64 // SI, the farthest sample as logged
	Samples int
}

// Dropout is a stretch in which a sensor's signal was lost: it jumped to a level and
// back. It is bridged by a straight line inside a gap of the trace.
type Dropout struct {
	Channel  Channel
	From, To float64 // s, first and last sample
	Value    float64 // SI, as logged
}

// Wrap says how often the encoder started again, and after how many counts.
type Wrap struct {
	Count   int
	Modulus float64 // counts; 0 where it never did
	Stated  bool
}

// Held is a channel that the recorder repeats between updates, or leaves empty. A
// measured one lies in the trace on smooth curves between its updates, a command as logged.
type Held struct {
	Channel Channel
	Period  float64 // s between updates
}

package trace

// NoColumn as a Header says that no column of the log holds the channel, whatever
// their names say.
const NoColumn = "none"

// Column says which column of a log holds a channel and how to read it. It is
// what a user states, in a machine file or on a command line; zero fields are
// left to the header and to guessing.
type Column struct {
	Header string // the column's header text, less unit
	Unit   string // unit as written, such as "mm" or "counts"; "" takes the header's
	Sign   int    // -1 flips; 0 and 1 do not

	CountsPerRev float64 // for motor position in counts
	Wrap         float64 // counts at which the encoder starts again at zero; 0 finds it
	Offset       float64 // SI, added after scaling
	// From and To scale an analogue input linearly: From[0] reads as To[0]. From
	// is in the column's own unit, To in SI; both are zero where not stated.
	From, To  [2]float64
	Absolute  bool    // pressure sensor reads absolute
	FullScale float64 // SI value of 100 %, for channels logged in %
	Period    float64 // s, of Time alone: from sample to sample where a log holds no time
}

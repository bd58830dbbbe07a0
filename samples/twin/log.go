package twin

import (
	"bufio"
	"io"
	"math"
	"strconv"
)

// Column is one channel of a log.
type Column struct {
	Channel  string    // the channel's name without unit, as "rod_position"
	Unit     string    // as in the header, "mm"
	Factor   float64   // from SI to Unit
	Decimals int       // written to a CSV file
	SI       []float64 // one entry per row
}

// Event says when a part of a log begins.
type Event struct {
	Segment string  `json:"segment"`
	Time    float64 `json:"t_s"`
}

// Log is a recording of a machine. The first column is time.
type Log struct {
	Name    string
	Period  float64 // s
	Columns []Column
	Events  []Event
	Loops   *Loops // settings in use, nil where the speed command was played
	played  []Part // the test moves of a closed loop
	// PeakForce is the largest force (N) on the work piece, which no channel holds.
	PeakForce float64
}

// Rows returns the number of rows.
func (l *Log) Rows() int { return len(l.Columns[0].SI) }

// SI returns the samples of a channel in SI units, nil where it is not logged.
func (l *Log) SI(channel string) []float64 {
	for i := range l.Columns {
		if l.Columns[i].Channel == channel {
			return l.Columns[i].SI
		}
	}
	return nil
}

// Rounded replaces every sample by what a reader of the CSV file would get.
func (l *Log) Rounded() {
	for i := range l.Columns {
		c := &l.Columns[i]
		scale := math.Pow(10, float64(c.Decimals))
		for j, v := range c.SI {
			c.SI[j] = math.Round(v*c.Factor*scale) / scale / c.Factor
		}
	}
}

// WriteCSV writes the log with one header row, columns named "channel_unit".
func (l *Log) WriteCSV(w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	for i, c := range l.Columns {
		if i > 0 {
			out.WriteByte(',')
		}
		out.WriteString(c.Channel + "_" + c.Unit)
	}
	out.WriteByte('\n')
	var line []byte
	for row := range l.Columns[0].SI {
		line = line[:0]
		for i := range l.Columns {
			c := &l.Columns[i]
			if i > 0 {
				line = append(line, ',')
			}
			line = appendDecimal(line, c.SI[row]*c.Factor, c.Decimals)
		}
		line = append(line, '\n')
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
	return out.Flush()
}

// appendDecimal is strconv's, without the sign of a rounded zero.
func appendDecimal(b []byte, v float64, decimals int) []byte {
	if math.Abs(v) < 0.5*math.Pow(10, -float64(decimals)) {
		v = 0
	}
	return strconv.AppendFloat(b, v, 'f', decimals, 64)
}

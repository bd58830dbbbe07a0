package quality

import (
	"fmt"
	"math"

	"eha/strokewise/ident/trace"
)

// maxEach is how many findings of one id a log may bring; more are summed up in
// the last.
const maxEach = 8

// rows reports what the reader saw in the raw rows.
func (v *view) rows() []Finding {
	var found []Finding
	for _, part := range [][]Finding{v.clock(), v.missing(), v.spikes(), v.dropouts(), v.cells(), v.wraps(), v.held()} {
		found = append(found, part...)
	}
	return found
}

// clock reports jitter and time that ran backwards. Jitter below 2 % of the
// period is the rounding of any recorder's stamps.
func (v *view) clock() []Finding {
	c := v.r.Clock
	period := v.t.Period()
	var found []Finding
	// Stamps printed with few digits jitter by their rounding, uniform over the last digit.
	if c.Jitter > 0.02*period {
		text := fmt.Sprintf("the time stamps jitter by %s (one standard deviation) about %s.", inTime(c.Jitter), inTime(period))
		do := "Samples were brought to even distances. Record on the drive's own cycle where it can."
		severity := Note
		if c.StampsOnly {
			text = fmt.Sprintf("the time stamps jitter by %s (one standard deviation) about %s; the samples themselves are evenly spaced and were taken so.", inTime(c.Jitter), inTime(period))
			do = "Nothing to do; the jitter is in the stamps only."
		} else if c.Jitter > 0.3*period {
			severity = Harm
		}
		found = append(found, v.finding(TimeJitter, severity, trace.Time, join(driveParams, waveParams), text, do))
	}
	if v.r.Layout.NewestFirst {
		found = append(found, v.finding(TimeBackwards, Note, trace.Time, nil, "the rows come newest first; they were turned round.", "Nothing to do."))
	}
	for i, at := range append(append([]float64(nil), c.Backward...), c.Restarts...) {
		f := v.finding(TimeBackwards, Note, trace.Time, nil,
			fmt.Sprintf("time does not advance at %.3f s.", at),
			"Rows that went back were dropped. Export the log anew if there are many.")
		if i >= len(c.Backward) {
			f.Text = fmt.Sprintf("the log's time begins anew at %.3f s; the parts are kept apart.", at)
			f.Do = "Nothing to do if several recordings were meant to be in one file."
		}
		f.From, f.To = at, at
		if i == maxEach-1 {
			f.Text = fmt.Sprintf("time does not advance at %.3f s and at %d more places.", at, len(c.Backward)+len(c.Restarts)-i-1)
			found = append(found, f)
			break
		}
		found = append(found, f)
	}
	return found
}

// disorder returns whether rows were out of order within a fifth of a second of a time (s).
func (v *view) disorder() func(at float64) bool {
	times := append(append([]float64(nil), v.r.Clock.Backward...), v.r.Clock.Restarts...)
	return func(at float64) bool {
		for _, t := range times {
			if math.Abs(t-at) < 0.2 {
				return true
			}
		}
		return false
	}
}

// missing reports blocks of rows that the log lacks. Blocks of over 2 % of the
// log together harm; single rows are bridged by the reader and noted.
func (v *view) missing() []Finding {
	blocks := v.r.Clock.Missing
	lost := 0
	for _, b := range blocks {
		lost += b.Rows
	}
	severity := Note
	if 50*lost > v.t.Len() {
		severity = Harm
	}
	var found []Finding
	for i, b := range blocks {
		f := v.finding(MissingRows, severity, trace.Time, nil,
			fmt.Sprintf("%d rows are missing between %.4f and %.4f s.", b.Rows, b.From, b.To), "Nothing is fitted across the gap. Look whether the recorder overran.")
		f.From, f.To = b.From, b.To
		if i == maxEach-1 && len(blocks) > maxEach {
			f.Text = fmt.Sprintf("%d rows are missing in %d blocks, of which this is the eighth.", lost, len(blocks))
			f.To = blocks[len(blocks)-1].To
			return append(found, f)
		}
		found = append(found, f)
	}
	return found
}

func (v *view) spikes() []Finding {
	var found []Finding
	for i, s := range v.r.Spikes {
		f := v.finding(SpikeFound, Note, s.Channel, nil,
			fmt.Sprintf("%s jumps to %s for %s at %.3f s.", s.Channel.Words(), inUnit(s.Channel, s.Value), samplesWord(s.Samples), s.Time),
			"The samples were left out. If it comes again, look for a loose plug or a cable beside the motor's.")
		f.From, f.To = s.Time, s.Time+float64(s.Samples)*v.t.Period()
		if i == maxEach-1 && len(v.r.Spikes) > maxEach {
			f.Severity = Harm
			f.Text = fmt.Sprintf("%d spikes in all; this one on the %s at %.3f s is the eighth.", len(v.r.Spikes), s.Channel.Words(), s.Time)
			return append(found, f)
		}
		found = append(found, f)
	}
	return found
}

// cells reports empty and unreadable cells.
func (v *view) cells() []Finding {
	var found []Finding
	empty, lost := 0, 0
	for _, n := range v.r.Bridged {
		empty += n
	}
	for _, n := range v.r.Lost {
		empty += n
		lost += n
	}
	if empty > 0 {
		text := fmt.Sprintf("%d cells are empty or not numbers (NaN); %d of them in runs of up to three samples were bridged by a straight line", empty, empty-lost)
		if lost > 0 {
			text += fmt.Sprintf(", %d in longer runs were left out", lost)
		}
		severity := Note
		if 50*lost > v.t.Len() {
			severity = Harm
		}
		found = append(found, v.finding(EmptyCells, severity, trace.NoChannel, nil, text+".", "Nothing to do if they are scattered. Many of them: record fewer channels."))
	}
	if v.r.Rejects > 0 {
		text := fmt.Sprintf("%d cells hold something other than a usable number", v.r.Rejects)
		if len(v.r.Rejected) > 0 {
			c := v.r.Rejected[0]
			text += fmt.Sprintf(", the first %q in line %d, column %s", c.Text, c.Row, c.Column)
		}
		found = append(found, v.finding(UnreadableCells, Note, trace.NoChannel, nil, text+".", "They were taken as missing. Look at the export if there are many."))
	}
	return found
}

// wraps notes that the encoder started again at zero and was put together. A
// modulus that was found and is no power of two is worth a look.
func (v *view) wraps() []Finding {
	w := v.r.Wrap
	if w.Count == 0 {
		return nil
	}
	text := fmt.Sprintf("the encoder starts again %d times, after %.0f counts each; the turns were put together.", w.Count, w.Modulus)
	do := "Nothing to do."
	severity := Note
	if !w.Stated {
		do = "Check the number and state it as wrap in the machine file."
		if e := math.Log2(w.Modulus); math.Abs(e-math.Round(e)) > 1e-9 {
			severity = Harm
			text = fmt.Sprintf("the encoder starts again %d times, after %.0f counts as it seems, which is no power of two; the turns were put together by that.", w.Count, w.Modulus)
		}
	}
	return []Finding{v.finding(EncoderWrap, severity, trace.MotorPosition, strokeParams, text, do)}
}

func (v *view) held() []Finding {
	var found []Finding
	for _, h := range v.r.Held {
		found = append(found, v.finding(HeldSamples, Note, h.Channel, nil,
			fmt.Sprintf("%s is updated every %s only and repeated between.", h.Channel.Words(), inTime(h.Period)),
			"Its own rate was used. For dynamics record it on the fast cycle."))
	}
	return found
}

func samplesWord(n int) string {
	if n <= 1 {
		return "one sample"
	}
	return fmt.Sprintf("%d samples", n)
}

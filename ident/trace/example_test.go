package trace_test

import (
	"context"
	"fmt"
	"strings"

	"eha/strokewise/ident/trace"
)

func ExampleRead() {
	log := "Recording;7\n\nt;n_soll;Weg\nms;1/min;mm\n0,0;600,0;12,50\n1,0;600,0;12,53\n2,0;;12,55\n3,0;600,0;12,58\n"
	r, err := trace.Read(context.Background(), strings.NewReader(log), "log.csv", trace.ReadOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Trace.Len(), "samples every", r.Trace.Period(), "s")
	for _, g := range r.Guesses {
		fmt.Printf("%s: column %q [%s], %.0f %% sure: %s\n", g.Channel, g.Column, g.Unit, 100*g.Sure, g.Why)
	}
	fmt.Println("bridged:", r.Bridged[trace.SpeedCommand])
	// Output:
	// 4 samples every 0.001 s
	// time: column "t" [ms], 98 % sure: a word for time, unit of time, advancing
	// speed_command: column "n_soll" [1/min], 92 % sure: words for speed and command, unit rpm
	// rod_position: column "Weg" [mm], 92 % sure: words for rod and position, unit mm
	// bridged: 1
}

func ExampleRead_error() {
	log := "time_s,rod_position_mm,cap_pressure_bar\n0,12.5,30\n0.001,12.4x,30\n0.002,12.6,31\n"
	_, err := trace.Read(context.Background(), strings.NewReader(log), "press_03.csv", trace.ReadOptions{})
	fmt.Println(err)
	// Output:
	// trace: press_03.csv:3: rod position: "12.4x" is not a number; correct or empty that cell, or export again
}

func ExampleParseColumn() {
	c, col, err := trace.ParseColumn("rod_position=LT 1[mm]")
	fmt.Println(c, col.Header, col.Unit, err)
	// Output:
	// rod_position LT 1 mm <nil>
}

package machine_test

import (
	"fmt"

	"eha/strokewise/ident/machine"
	"eha/strokewise/ident/trace"
)

func ExampleParse() {
	_, err := machine.Parse([]byte("[cylinder]\nbore = 50\n"), "press.toml")
	fmt.Println(err)
	// Output:
	// machine: press.toml:2: cylinder.bore: 50 is not a quantity: write it as a text with its unit, such as "50 mm"
}

func ExampleSaveChannels() {
	file := "name = \"press\" # left one\n"
	saved, err := machine.SaveChannels([]byte(file), map[trace.Channel]trace.Column{
		trace.RodPosition: {Header: "LT 1", Unit: "mm", Sign: -1}})
	fmt.Print(string(saved), err, "\n")
	// Output:
	// name = "press" # left one
	// [channels]
	// rod_position = { column = "LT 1", unit = "mm", sign = -1 }
	// <nil>
}

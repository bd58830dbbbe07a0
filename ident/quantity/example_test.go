package quantity_test

import (
	"fmt"

	"eha/strokewise/ident/quantity"
)

func ExampleParse() {
	bore, err := quantity.Parse("50 mm", quantity.Length)
	fmt.Println(bore, err)
	_, err = quantity.Parse("50", quantity.Length)
	fmt.Println(err)
	// Output:
	// 0.05 <nil>
	// "50": a quantity needs its unit, such as "50 mm"
}

func ExampleFormat() {
	fmt.Println(quantity.Format(0.0508, quantity.Length, quantity.Metric))
	fmt.Println(quantity.Format(0.0508, quantity.Length, quantity.Inch))
	// Output:
	// 50.8 mm
	// 2 in
}

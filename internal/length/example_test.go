package length_test

import (
	"fmt"

	"boltward/internal/length"
)

func Example() {
	measured, _ := length.Parse(`3 yd 4½"`, length.Yd, length.Down)
	fmt.Println(length.Format(measured, length.Yd), "or", length.Other(measured, length.Yd))

	s, exact := length.Decimal(measured, length.MM)
	fmt.Println(s, exact)

	_, err := length.Parse("1,200 in", length.Yd, length.Down)
	fmt.Println(err)

	wide, long, _ := length.ParseRect("18 x 22 in", length.In, length.Down)
	area, _ := wide.Times(long)
	fmt.Println(area.Format(length.In))
	// Output:
	// 3 1/8 yd or about 2.86 m
	// 2857.5 true
	// 1,200 can mean 1200 or 1.200; write it without the comma, or with a full stop.
	// 0.31 yd²
}

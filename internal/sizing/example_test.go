package sizing_test

import (
	"fmt"

	"boltward/internal/length"
	"boltward/internal/sizing"
)

// What do I get from these cuts, and what must be cut for it from narrower cloth?
func Example() {
	cuts, unit, err := sizing.ParseCuts("cut", "body=41x27in,cuff=41x9in", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	join, seam := sizing.DefaultSeams(unit)
	spec, err := sizing.FromCuts(cuts, sizing.Spec{Unit: unit, Join: join, Seam: seam, Body: sizing.Folded})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(length.Format(spec.Width, unit), "×", length.Format(spec.Length, unit))

	panels, _, err := sizing.Cuts(spec.FrontAndBack())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range panels {
		fmt.Println(p.Pieces, p.Role, length.Format(p.Around, unit), "×", length.Format(p.Along, unit))
	}
	// Output:
	// 20 in × 30 1/2 in
	// 2 body 21 in × 27 in
	// 2 cuff 21 in × 9 in
}

func ExampleLot_Usable() {
	lot := sizing.Lot{
		Length: 3 * length.Yard,
		Width:  45 * length.Inch,
		Flaws:  []sizing.Flaw{{From: 30 * length.Inch, To: 33 * length.Inch}},
	}
	usable, err := lot.Usable(sizing.DefaultAllowances(), length.In)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range usable.Parts {
		fmt.Println(p.Kind, length.Format(p.Width, length.In), "×", length.Format(p.Length, length.In))
	}
	// Output:
	// flaw part 42 in × 29 in
	// flaw part 42 in × 74 in
}

package invent

import (
	"encoding/json"
	"fmt"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDrivesAreSoundAndTheSameFromTheSameSeed(t *testing.T) {
	for _, k := range Kinds() {
		t.Run(k.Name, func(t *testing.T) {
			for seed := range uint64(8) {
				for _, n := range []int{1, 2, k.Sizes[0], k.Sizes[1]} {
					d := k.Make(seed, n)
					require.NoError(t, d.Problem.Validate(), "seed %d, %d fabrics", seed, n)
					require.NotEmpty(t, d.Problem.Fabrics)
					one, err := json.Marshal(d)
					require.NoError(t, err)
					two, err := json.Marshal(k.Make(seed, n))
					require.NoError(t, err)
					require.Equal(t, string(one), string(two), "seed %d, %d fabrics", seed, n)
				}
				require.NotEqual(t, k.Make(seed, 9), k.Make(seed+1, 9), "another seed, another drive")
			}
		})
	}
}

// Planted drives are cut from cloth without waste: the panels of what is made cover it all.
func TestPlantedDrivesWasteNothing(t *testing.T) {
	for _, name := range []string{"planted", "area"} {
		k, ok := Named(name)
		require.True(t, ok)
		for seed := range uint64(20) {
			d := k.Make(seed, 12)
			cloth := new(big.Rat)
			for _, f := range d.Problem.Fabrics {
				one := new(big.Rat).Mul(f.Length.Rat(), f.Width.Rat())
				cloth.Add(cloth, one.Mul(one, big.NewRat(int64(f.Pieces), 1)))
			}
			if name == "area" {
				require.Equal(t, cloth.RatString(), d.Best.String(), "seed %d", seed)
				continue
			}
			panels := new(big.Rat)
			for _, q := range d.Problem.Quotas {
				for _, l := range d.Problem.CaseByID(q.Cases[0]).Panels {
					one := new(big.Rat).Mul(l.Around.Rat(), l.Along.Rat())
					panels.Add(panels, one.Mul(one, big.NewRat(int64(l.Pieces*q.Wanted), 1)))
				}
			}
			require.Equal(t, cloth.RatString(), panels.RatString(), "seed %d", seed)
		}
	}
}

func ExampleNamed() {
	k, _ := Named("depot")
	d := k.Make(1, 20)
	fmt.Println(d.Problem.Unit, len(d.Problem.Fabrics))
	// Output: in 20
}

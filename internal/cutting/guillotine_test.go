package cutting

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const published = "../../../shared/data/cutting"

// gcut reads one of Beasley's instances (Journal of the Operational Research Society 36,
// 1985, 297–306); rotated adds every panel turned.
func gcut(t testing.TB, n int, rotated bool) (forms []Form, value []int64, width, length int64) {
	data, err := os.ReadFile(filepath.Join(published, "gcut", fmt.Sprintf("gcut%d.txt", n)))
	if err != nil {
		t.Skip("the shared folder with published instances is not here")
	}
	var numbers []int64
	for _, f := range strings.Fields(string(data)) {
		v, err := strconv.ParseInt(f, 10, 64)
		require.NoError(t, err)
		numbers = append(numbers, v)
	}
	width, length = numbers[1], numbers[2]
	for i := 3; i+2 < len(numbers); i += 3 {
		forms, value = append(forms, Form{numbers[i], numbers[i+1]}), append(value, numbers[i+2])
		if rotated && numbers[i] != numbers[i+1] {
			forms, value = append(forms, Form{numbers[i+1], numbers[i]}), append(value, numbers[i+2])
		}
	}
	return forms, value, width, length
}

// optima reads the published optima of best.csv (Cintra and others, EJOR 191, 2008).
func optima(t testing.TB) map[string]int64 {
	file, err := os.Open(filepath.Join(published, "best.csv"))
	if err != nil {
		t.Skip("the shared folder with published optima is not here")
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	out := map[string]int64{}
	for _, r := range rows {
		turned := ""
		switch {
		case strings.HasSuffix(r[1], "unlimited stages, no rotation"):
			turned = "fixed"
		case strings.HasSuffix(r[1], "unlimited stages, rotation"):
			turned = "rotated"
		default:
			continue
		}
		v, err := strconv.ParseInt(r[2], 10, 64)
		require.NoError(t, err)
		out[r[0]+" "+turned] = v
	}
	return out
}

func TestGuillotineReachesThePublishedOptima(t *testing.T) {
	best := optima(t)
	for n := 1; n <= 13; n++ {
		for _, rotated := range []bool{false, true} {
			turned := map[bool]string{false: "fixed", true: "rotated"}[rotated]
			forms, value, width, length := gcut(t, n, rotated)
			start := time.Now()
			v, cut, err := Guillotine(forms, value, width, length)
			require.NoError(t, err)
			t.Logf("gcut%d %s: %d in %v", n, turned, v, time.Since(start))
			require.Equal(t, best[fmt.Sprintf("gcut%d %s", n, turned)], v, "gcut%d %s", n, turned)
			requireCut(t, cut, forms, value, width, length, v)
		}
	}
}

// requireCut holds a rebuilt pattern to its value and to the independent check.
func requireCut(t require.TestingT, cut *Cut, forms []Form, value []int64, width, length, want int64) {
	var rects []Rect
	var sum int64
	for _, p := range cut.Panels() {
		sum += value[p.Form]
		rects = append(rects, p.Rect)
	}
	require.Equal(t, want, sum)
	_, err := Check(width, length, rects, 1000)
	require.NoError(t, err)
}

// plainGuillotine cuts at every unit.
func plainGuillotine(forms []Form, value []int64, width, length int64) int64 {
	best := make([][]int64, width+1)
	for w := range best {
		best[w] = make([]int64, length+1)
		for l := range best[w] {
			for i, f := range forms {
				if f.W <= int64(w) && f.H <= int64(l) {
					best[w][l] = max(best[w][l], value[i])
				}
			}
			for a := 1; a < w; a++ {
				best[w][l] = max(best[w][l], best[a][l]+best[w-a][l])
			}
			for a := 1; a < l; a++ {
				best[w][l] = max(best[w][l], best[w][a]+best[w][l-a])
			}
		}
	}
	return best[width][length]
}

func TestGuillotineAgreesWithCuttingAtEveryUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		forms, value := drawForms(t, 9)
		w, l := rapid.Int64Range(1, 20).Draw(t, "width"), rapid.Int64Range(1, 20).Draw(t, "length")
		v, cut, err := Guillotine(forms, value, w, l)
		require.NoError(t, err)
		require.Equal(t, plainGuillotine(forms, value, w, l), v)
		requireCut(t, cut, forms, value, w, l, v)
		p, err := NewProgram(forms, l, []int64{w}, 1<<14)
		require.NoError(t, err)
		p.Price(value, nil)
		require.LessOrEqual(t, p.Best(p.Point(l), 0), v, "three stages cannot beat any number of them")
	})
}

// Sheets of more sizes than are filled together, square ones where turning changes nothing, and
// values that need 64 bits or so few that many cuts tie.
func TestGuillotineOnManySizesTurnedAndOfAnyWorth(t *testing.T) {
	turned, wide := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		forms, value := drawForms(t, rapid.SampledFrom([]int64{6, 15, 40}).Draw(t, "sides"))
		w, l := rapid.Int64Range(40, 130).Draw(t, "width"), rapid.Int64Range(40, 130).Draw(t, "length")
		if rapid.Bool().Draw(t, "turned") {
			for i, f := range forms {
				forms, value = append(forms, Form{f.H, f.W}), append(value, value[i])
			}
			l = w
			turned++
		}
		unit := rapid.SampledFrom([]int64{1, 1 << 20, 1 << 40}).Draw(t, "worth of one")
		for i := range value {
			value[i] *= unit
		}
		v, cut, err := Guillotine(forms, value, w, l)
		require.NoError(t, err)
		require.Equal(t, plainGuillotine(forms, value, w, l), v)
		requireCut(t, cut, forms, value, w, l, v)
		var ws []int64
		for _, f := range forms {
			ws = append(ws, f.W)
		}
		x, err := newAxis(ws, w)
		require.NoError(t, err)
		if len(x.sizes) > block+1 {
			wide++
		}
	})
	require.Positive(t, turned)
	require.Positive(t, wide, "no sheet had more sizes than a block")
}

// The unit of length must not matter, and nothing may overflow or grow without end.
func TestGuillotineInTinyUnits(t *testing.T) {
	forms, value := []Form{{5, 3}, {3, 4}, {2, 2}}, []int64{16, 13, 4}
	want, _, err := Guillotine(forms, value, 40, 31)
	require.NoError(t, err)
	const unit = 250_000_019 // the sheet is 10^10 wide
	for i, f := range forms {
		forms[i] = Form{f.W * unit, f.H * unit}
	}
	v, cut, err := Guillotine(forms, value, 40*unit+1, 31*unit+7)
	require.NoError(t, err)
	require.Equal(t, want, v)
	requireCut(t, cut, forms, value, 40*unit+1, 31*unit+7, want)

	var fine *ErrTooFine
	_, _, err = Guillotine([]Form{{1, 1}, {7, 3}}, []int64{1, 30}, 1e10, 1e10)
	require.ErrorAs(t, err, &fine)
	_, _, err = Guillotine([]Form{{1, 1}}, []int64{math.MaxInt64 / 2}, 3, 1)
	require.ErrorIs(t, err, ErrTooMuch)
	_, _, err = Guillotine([]Form{{0, 1}}, []int64{1}, 3, 1)
	require.ErrorContains(t, err, "0 × 1")
	v, _, err = Guillotine([]Form{{4, 1}}, []int64{1}, 3, 1)
	require.NoError(t, err)
	require.Zero(t, v)
}

func BenchmarkGuillotine(b *testing.B) {
	for _, n := range []int{1, 8, 12, 13} {
		for _, rotated := range []bool{false, true} {
			forms, value, width, length := gcut(b, n, rotated)
			b.Run(fmt.Sprintf("gcut%d/rotated=%v", n, rotated), func(b *testing.B) {
				for b.Loop() {
					Guillotine(forms, value, width, length)
				}
			})
		}
	}
}

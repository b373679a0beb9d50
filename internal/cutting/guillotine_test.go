package cutting

import (
	"encoding/csv"
	"fmt"
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
	most := 12
	if os.Getenv("BOLTWARD_LONG") != "" {
		most = 13
	}
	for n := 1; n <= most; n++ {
		for _, rotated := range []bool{false, true} {
			turned := map[bool]string{false: "fixed", true: "rotated"}[rotated]
			forms, value, width, length := gcut(t, n, rotated)
			start := time.Now()
			v, cut := Guillotine(forms, value, width, length)
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
		v, cut := Guillotine(forms, value, w, l)
		require.Equal(t, plainGuillotine(forms, value, w, l), v)
		requireCut(t, cut, forms, value, w, l, v)
		p, err := NewProgram(forms, l, []int64{w}, 1<<14)
		require.NoError(t, err)
		p.Price(value, nil)
		require.LessOrEqual(t, p.Best(p.Point(l), 0), v, "three stages cannot beat any number of them")
	})
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

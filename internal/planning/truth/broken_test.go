package truth

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
	"boltward/internal/planning/invent"
	"boltward/internal/planning/proof"
)

// proven is a drive whose best plan is known, with a certificate that proves it.
type proven struct {
	name        string
	problem     []byte
	plan        *planning.Plan
	certificate any // as it stands in the file
}

// lie gives the plan's file with this certificate and a bound one step below what can be made,
// which no certificate proves.
func (x *proven) lie(t require.TestingT, certificate any) []byte {
	step := x.plan.Certificate.Step.Rat()
	less := new(big.Rat).Sub(x.plan.Summary.WeightMade.Rat(), step)
	return text(t, map[string]any{
		"summary":     map[string]any{"weight_bound": json.Number(less.FloatString(9)), "cases_bound": x.plan.Summary.CasesBound},
		"certificate": certificate,
	})
}

// provenDrives plans small drives of several kinds until they are closed. Splits by trims and a
// grid are put into each certificate by hand, so that every field stands in some of them.
func provenDrives(t require.TestingT, drives ...drawn) []*proven {
	var out []*proven
	for _, of := range drives {
		for _, k := range invent.Kinds() {
			if k.Name != of.kind {
				continue
			}
			p := k.Make(of.seed, of.size).Problem
			plan := planned(t, p, planning.Options{Effort: 100})
			if plan.Summary.Stopped != planning.Closed {
				continue
			}
			enrich(t, p, plan.Certificate)
			requireProven(t, p, plan)
			x := &proven{name: fmt.Sprint(of), problem: text(t, p), plan: plan}
			x.certificate = decoded(t, text(t, plan.Certificate))
			out = append(out, x)
		}
	}
	require.NotEmpty(t, out)
	return out
}

// drawn names a drive.
type drawn struct {
	kind string
	seed uint64
	size int
}

var (
	fewDrives  = []drawn{{"typed", 4, 4}, {"planted", 2, 4}}
	someDrives = append([]drawn{{"sparse", 4, 8}, {"hidden", 1, 8}, {"hidden", 3, 8}, {"sizes", 3, 4}}, fewDrives...)
)

func requireEveryField(t require.TestingT, drives []*proven) {
	var all strings.Builder
	for _, x := range drives {
		all.Write(text(t, x.certificate))
	}
	for _, field := range []string{"step", "unit", "panels", "quotas", "trims", "grids", "sums", "tree", "cases", "split", "low", "high", "price", "use", "quota", "trim", "cannot", "of", "panel", "sum", "group"} {
		require.Contains(t, all.String(), `"`+field+`":`, "no certificate here has it")
	}
}

func enrich(t require.TestingT, p *planning.Problem, c *planning.Certificate) {
	if p.Unit == "in" { // measured in quarters
		c.Grids = append(c.Grids, planning.CertifiedGrid{Group: p.Fabrics[0].Group, Grid: decimal(t, "0.25")})
	}
	for i, trim := range c.Trims {
		for _, g := range p.Trims[trim.Body] {
			if i == 0 {
				c.Tree = &planning.CertifiedNode{Split: &planning.Quantity{Of: "choice", Trim: i, Group: g}, Low: c.Tree, High: c.Tree}
				return
			}
		}
	}
}

func decoded(t require.TestingT, data []byte) any {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	var v any
	require.NoError(t, d.Decode(&v))
	return v
}

// However a certificate is broken, at any place, it does not prove what is not so.
func TestNoBrokenCertificateProvesALie(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	most := 30
	if long() {
		most = 1 << 30
	}
	drives := provenDrives(t, someDrives...)
	requireEveryField(t, drives)
	for _, x := range drives {
		require.Error(t, checked(t, x.problem, x.lie(t, x.certificate)), "%s, unbroken", x.name)
		places := placesOf(x.certificate, nil)
		r.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
		for _, at := range places[:min(most, len(places))] {
			had := get(x.certificate, at)
			ways := broken(had)
			if !long() {
				ways = []any{ways[r.IntN(len(ways))], ways[r.IntN(len(ways))]}
			}
			for _, v := range ways {
				put(x.certificate, at, v)
				require.Error(t, checked(t, x.problem, x.lie(t, x.certificate)), "%s: %v at %v instead of %v", x.name, v, at, had)
			}
			put(x.certificate, at, had)
		}
	}
}

// checked asks the second checker, and fails where it finds no end.
func checked(t require.TestingT, problem, plan []byte) error {
	ctx, stop := context.WithTimeout(context.Background(), 20*time.Second)
	defer stop()
	_, err := proof.Check(ctx, bytes.NewReader(problem), bytes.NewReader(plan))
	require.False(t, errors.Is(err, context.DeadlineExceeded), "no end of checking %s", plan)
	return err
}

// placesOf lists every place in a decoded file.
func placesOf(v any, at []any) [][]any {
	var out [][]any
	switch v := v.(type) {
	case map[string]any:
		for _, k := range sorted(v) {
			out = append(out, append(slices.Clone(at), k))
			out = append(out, placesOf(v[k], append(slices.Clone(at), k))...)
		}
	case []any:
		for i := range v {
			out = append(out, append(slices.Clone(at), i))
			out = append(out, placesOf(v[i], append(slices.Clone(at), i))...)
		}
	}
	return out
}

func sorted(m map[string]any) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func get(v any, at []any) any {
	for _, k := range at {
		switch k := k.(type) {
		case string:
			v = v.(map[string]any)[k]
		case int:
			v = v.([]any)[k]
		}
	}
	return v
}

func put(v any, at []any, what any) {
	switch in := get(v, at[:len(at)-1]).(type) {
	case map[string]any:
		in[at[len(at)-1].(string)] = what
	case []any:
		in[at[len(at)-1].(int)] = what
	}
}

// broken lists what may stand in place of a value.
func broken(v any) []any {
	out := []any{nil, "x", map[string]any{}, []any{}, json.Number("3")}
	switch v := v.(type) {
	case json.Number:
		for _, n := range []string{"0", "1", "-1", "0.5", "7", "1000", "1099511627776", "288230376151711744", "4611686018427387904", "9223372036854775807", "-9223372036854775808", "-288230376151711744", "1e30", "1e-30", "1e-9", "5e-324", "1e-400", "1e400", "18446744073709551617"} {
			out = append(out, json.Number(n))
		}
		if n, ok := new(big.Rat).SetString(v.String()); ok {
			for _, by := range []int64{1, -1, 1000, -1000} {
				out = append(out, json.Number(new(big.Rat).Add(n, big.NewRat(by, 1)).FloatString(3)), json.Number(new(big.Rat).Mul(n, big.NewRat(by, 1)).FloatString(3)))
			}
			if n.IsInt() {
				out = append(out, json.Number(new(big.Int).Add(n.Num(), big.NewInt(1)).String()), json.Number(new(big.Int).Sub(n.Num(), big.NewInt(1)).String()), json.Number(new(big.Int).Neg(n.Num()).String()))
			}
		}
	case string:
		out = append(out, "", v+" ", strings.ToUpper(v), "quota", "panel", "way", "choice", "sum", "body", "cuff")
	case []any:
		out = append(out, append(slices.Clone(v), json.Number("0")), append(slices.Clone(v), v...))
		if len(v) > 0 {
			out = append(out, v[1:], v[:len(v)-1], append(slices.Clone(v), v[0]), append(slices.Clone(v[1:]), v[0]))
		}
	case map[string]any:
		for _, k := range sorted(v) {
			less, doubled := map[string]any{}, map[string]any{}
			for j, x := range v {
				if doubled[j] = x; j != k {
					less[j] = x
				}
			}
			doubled[strings.ToUpper(k)] = json.Number("1")
			out = append(out, less, doubled, v[k])
		}
	}
	return out
}

// FuzzCertificates has whatever bytes prove what is not so; none may, and none may take long.
func FuzzCertificates(f *testing.F) {
	drives := provenDrives(f, fewDrives...)
	for i, x := range drives {
		f.Add(uint(i), text(f, x.certificate))
	}
	f.Fuzz(func(t *testing.T, of uint, certificate []byte) {
		if !json.Valid(certificate) {
			return
		}
		x := drives[of%uint(len(drives))]
		ctx, stop := context.WithTimeout(context.Background(), 2*time.Second)
		defer stop()
		_, err := proof.Check(ctx, bytes.NewReader(x.problem), bytes.NewReader(x.lie(t, json.RawMessage(certificate))))
		require.Error(t, err)
	})
}

// FuzzSecondChecker gives the second checker any two files: it answers, whatever they are.
func FuzzSecondChecker(f *testing.F) {
	for _, x := range provenDrives(f, fewDrives...) {
		f.Add(x.problem, text(f, x.plan))
	}
	f.Fuzz(func(t *testing.T, problem, plan []byte) {
		ctx, stop := context.WithTimeout(context.Background(), 2*time.Second)
		defer stop()
		v, err := proof.Check(ctx, bytes.NewReader(problem), bytes.NewReader(plan))
		require.True(t, err != nil || v != nil)
	})
}

package proof

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"slices"
)

// number reads a JSON number or string exactly.
type number struct{ *big.Rat }

func (n *number) UnmarshalJSON(data []byte) error {
	var text json.Number
	if err := json.Unmarshal(data, &text); err != nil {
		return err
	}
	r, err := exact(text.String())
	n.Rat = r
	return err
}

type problem struct {
	Fabrics []fabric
	Cases   []struct {
		ID     string
		Panels []panel
	}
	Trims  map[string][]string
	Narrow map[string]map[string][]string `json:"trim_roles"`
	Quotas []struct {
		ID     string
		Cases  []string
		Wanted int64
		Weight *number
		Bodies []string
	}
	Fixed *struct {
		Layouts []struct {
			Fabric string
			Piece  int64
			Panels []struct{ ID, Role, Case string }
		}
		Kits []struct {
			Quota       string
			Pillowcases []map[string][]string
		}
	}

	quotas []quota
}

type fabric struct {
	ID            string
	Length, Width number
	Pieces        *int64
	Group         string
	Roles         []string
	Turn          string
}

type panel struct {
	Role          string
	Around, Along number
	Pieces        *int64
}

type quota struct {
	wanted int64
	weight *big.Rat
}

type plan struct {
	Summary struct {
		WeightBound number `json:"weight_bound"`
		CasesBound  number `json:"cases_bound"`
	}
	Certificate *certificate

	cert        *certificate
	weightBound *big.Rat
	casesBound  *big.Int
}

type certificate struct {
	Step   number
	Unit   int64
	Panels []struct {
		Group, Role   string
		Around, Along number
	}
	Quotas []string
	Grids  []struct {
		Group string
		Grid  number
	}
	Trims []struct {
		Body, Role    string
		Around, Along number
		Pieces        int64
	}
	Sums []struct {
		Quotas, Panels []int
	}
	Tree, Cases *node
}

type node struct {
	Split                   *quantity
	At                      int64
	Low, High               *node
	Price, Use, Quota, Trim []int64
	Sums                    []int64
	Cannot                  []int
}

type quantity struct {
	Of, Case, Body, Group string
	Quota, Panel, Trim    int
	Sum                   int
}

func readProblem(r io.Reader) (*problem, error) {
	p := &problem{}
	if err := decode(r, p); err != nil {
		return nil, err
	}
	for _, f := range p.Fabrics {
		if f.Length.Rat == nil || f.Width.Rat == nil || f.Length.Sign() <= 0 || f.Width.Sign() <= 0 {
			return nil, fmt.Errorf("fabric %s has no size", f.ID)
		}
	}
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			if l.Around.Rat == nil || l.Along.Rat == nil || l.Around.Sign() <= 0 || l.Along.Sign() <= 0 {
				return nil, fmt.Errorf("case %s has a panel without a size", c.ID)
			}
		}
	}
	for _, q := range p.Quotas {
		w := big.NewRat(1, 1)
		if q.Weight != nil && q.Weight.Rat != nil {
			w = q.Weight.Rat
		}
		p.quotas = append(p.quotas, quota{q.Wanted, w})
	}
	return p, p.sound()
}

// decode reads one value, and nothing after it. A byte order mark before it says nothing.
func decode(r io.Reader, into any) error {
	text := bufio.NewReader(io.LimitReader(r, mostFile))
	if mark, err := text.Peek(3); err == nil && string(mark) == "\ufeff" {
		if _, err := text.Discard(3); err != nil {
			return err
		}
	}
	d := json.NewDecoder(text)
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("something follows after its end")
	}
	return nil
}

func readPlan(r io.Reader) (*plan, error) {
	p := &plan{}
	if err := decode(r, p); err != nil {
		return nil, err
	}
	if p.Certificate == nil {
		return nil, errors.New("there is no certificate")
	}
	p.cert = p.Certificate
	if p.Summary.WeightBound.Rat == nil || p.Summary.CasesBound.Rat == nil || !p.Summary.CasesBound.IsInt() {
		return nil, errors.New("the summary claims no bounds")
	}
	p.weightBound, p.casesBound = p.Summary.WeightBound.Rat, p.Summary.CasesBound.Num()
	if p.cert.Unit < 1 || p.cert.Unit > 1<<40 || p.cert.Step.Rat == nil || p.cert.Step.Sign() <= 0 {
		return nil, errors.New("the certificate's prices have no unit")
	}
	for _, x := range p.cert.Panels {
		if x.Around.Rat == nil || x.Along.Rat == nil {
			return nil, errors.New("the certificate names a panel without a size")
		}
	}
	for _, x := range p.cert.Grids {
		if x.Grid.Rat == nil || x.Grid.Sign() <= 0 {
			return nil, errors.New("the certificate names a grid without a size")
		}
	}
	for _, x := range p.cert.Trims {
		if x.Around.Rat == nil || x.Along.Rat == nil {
			return nil, errors.New("the certificate names a trim without a size")
		}
	}
	return p, nil
}

func (l panel) count() int64 { return oneOr(l.Pieces) }

func (f *fabric) count() int64 { return oneOr(f.Pieces) }

func (f *fabric) turn() string {
	if f.Turn == "" {
		return "either"
	}
	return f.Turn
}

func oneOr(n *int64) int64 {
	if n == nil {
		return 1
	}
	return *n
}

func has(list []string, s string) bool { return slices.Contains(list, s) }

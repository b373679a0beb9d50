package planning

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

func refused(t *testing.T, p *Problem, why string) {
	plan, err := Solve(context.Background(), p, Options{Effort: 1})
	require.Nil(t, plan)
	require.True(t, apperr.Is(err, apperr.KindInvalid), "%v", err)
	require.ErrorContains(t, err, why)
}

// What a plan could make bounds its memory: by what is asked for, or by the area of cloth.
func TestAPlanTooLargeToHoldIsRefused(t *testing.T) {
	p := teaTable(t)
	p.Fabrics[0].Length, p.Fabrics[0].Width, p.Fabrics[0].Pieces = Whole(393_700), Whole(43), 200 // bodies of 41 × 27
	p.Quotas[0].Wanted = 10_000_000
	refused(t, p, "could make more than 1000000 pillowcases: plan it in parts")

	p.Quotas[0].Wanted, p.Quotas[1].Wanted = 600_000, 600_000
	refused(t, p, "could make more than 1000000 pillowcases: plan it in parts")

	// Cloth that can make that many pillowcases, little of which is asked for, is planned.
	p.Quotas[0].Wanted, p.Quotas[1].Wanted = 2000, 5
	require.Equal(t, 2005, solved(t, p, Options{Effort: 20}).Summary.CasesBound)

	// So is a wish for ten million where cloth is little.
	p = teaTable(t)
	p.Quotas[0].Wanted, p.Quotas[1].Wanted = 10_000_000, 10_000_000
	require.Positive(t, solved(t, p, Options{Effort: 20}).Summary.CasesMade)
}

// The heaviest weight is at most a thousand million times the step that all are multiples of;
// the message says so with this problem's figures.
func TestWeightsFarApart(t *testing.T) {
	p := teaTable(t)
	p.Quotas[0].Weight, p.Quotas[1].Weight = Whole(1_000_000_000), Decimal{1, 2}
	refused(t, p, "1000000000 is too much beside the other weights: they are all whole multiples of 0.01, and the largest that is planned is 1000000000 times that")

	p.Quotas[0].Weight = Whole(10_000_000)
	plan := solved(t, p, Options{})
	even := teaTable(t)
	even.Quotas[0].Weight, even.Quotas[1].Weight = Whole(100), Whole(1)
	require.Equal(t, solved(t, even, Options{}).Quotas, plan.Quotas, "both say that the ward comes first")
}

// Numbers at the ends of what is taken, and very many of one thing: planned and proven, or
// refused where a piece would hold more panels than can be counted.
func TestNumbersOfEverySize(t *testing.T) {
	tiny := Decimal{1, 9}
	for name, change := range map[string]func(p *Problem){
		"a thousandth of a hair beside ten kilometres": func(p *Problem) {
			p.Fabrics[0].Length, p.Cases[0].Panels[2].Along = Whole(393_700), tiny
			p.Quotas[0].Wanted = 5000
		},
		"every panel a thousandth of a hair": func(p *Problem) {
			for i := range p.Cases {
				for j := range p.Cases[i].Panels {
					p.Cases[i].Panels[j].Around, p.Cases[i].Panels[j].Along = tiny, tiny
				}
			}
		},
		"ten kilometres each way": func(p *Problem) {
			p.Fabrics[2].Length, p.Fabrics[2].Width = Whole(393_700), Whole(393_700)
			p.Quotas[0].Wanted = 3000
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := teaTable(t)
			change(p)
			require.NoError(t, p.Validate())
			refused(t, p, "would be cut more often than can be planned")
			_, err := Solve(context.Background(), p, Options{})
			for path := range apperr.Fields(err) {
				require.Regexp(t, `^cases\[\d\]\.panels\[\d\]$`, path)
			}
		})
	}
	for name, change := range map[string]func(p *Problem){
		"panels of ten kilometres": func(p *Problem) {
			p.Cases[1].Panels[0].Around, p.Cases[1].Panels[0].Along = Whole(393_700), Whole(393_700)
		},
		"a thousand panels to a pillowcase": func(p *Problem) {
			p.Cases[2].Panels[0].Pieces, p.Cases[2].Panels[1].Pieces = 1000, 1000
			p.Cases[2].Panels[0].Around, p.Cases[2].Panels[0].Along = Whole(1), Whole(1)
			p.Cases[2].Panels[1].Around, p.Cases[2].Panels[1].Along = Whole(1), Whole(1)
		},
		"lengths of nine decimals": func(p *Problem) {
			p.Fabrics[0].Length, p.Fabrics[1].Width = Decimal{54_123_456_789, 9}, Decimal{42_999_999_999, 9}
		},
		"a thousand fabrics alike": func(p *Problem) {
			for i := range 1000 {
				f := p.Fabrics[i%6]
				f.ID = fmt.Sprint("more", i)
				p.Fabrics = append(p.Fabrics, f)
			}
			p.Quotas[0].Wanted = 400
		},
		"a panel kind for each quota": func(p *Problem) {
			p.Cases, p.Quotas = nil, nil
			for i := range MostKinds / 2 {
				id := fmt.Sprint("size ", i)
				p.Cases = append(p.Cases, Case{id, []Panel{{Body, Decimal{int64(3003 + 17*i), 2}, Decimal{int64(1711 + 13*i), 2}, 1}, {"cuff", Decimal{int64(3003 + 17*i), 2}, Decimal{int64(411 + 7*i), 2}, 1}}})
				p.Quotas = append(p.Quotas, Quota{ID: id, Cases: []string{id}, Wanted: 2, Weight: Whole(1), Bodies: []string{"boats", "owls", "navy"}})
			}
			for i := range p.Fabrics {
				p.Fabrics[i].Pieces *= 6
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := teaTable(t)
			change(p)
			require.NoError(t, p.Validate())
			began := time.Now()
			plan, err := Solve(context.Background(), p, Options{Effort: 40})
			require.NoError(t, err)
			took := time.Since(began)
			require.Empty(t, Check(p, plan))
			requireProven(t, p, plan)
			t.Logf("%v: %s", took.Round(time.Millisecond), strings.Split(Words(plan), ".")[0])
		})
	}
}

package drive

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/planning/plantest"
	"boltward/internal/sizing"
)

const inch = length.Inch

// standardPanels is the pillowcase of the check values: body 42 × 27, cuff 9,
// accent 2 in (common practice, no published source).
func standardPanels() []sizing.Panel {
	return []sizing.Panel{
		{Role: sizing.Body, Pieces: 1, Around: 42 * inch, Along: 27 * inch, MostAround: 44 * inch},
		{Role: sizing.Cuff, Pieces: 1, Around: 42 * inch, Along: 9 * inch, MostAround: 44 * inch},
		{Role: sizing.Accent, Pieces: 1, Around: 42 * inch, Along: 2 * inch, MostAround: 44 * inch},
	}
}

// clothOf gives washed quilting cotton, 43 in wide, without a direction.
func clothOf(id, print string, long length.Length, colours ...string) Cloth {
	return Cloth{
		ID: id, Pieces: 1, Width: 43 * inch, Length: long, Fibre: "cotton", Weight: "quilting", Washed: true,
		Print: print, Turn: "either", Colours: colours,
	}
}

func inputOf(wanted int, cloths ...Cloth) PlanInput {
	return PlanInput{
		Cloths:  cloths,
		Sizes:   []PlanSize{{ID: "1", Panels: standardPanels()}},
		Wants:   []Want{{ID: "1", Name: "Ward 4, standard", Sizes: []string{"1"}, Wanted: wanted, Weight: 10}},
		Washing: WashedFirst, KitCases: 4, KeepWidth: 9 * inch, KeepLength: 18 * inch,
	}
}

// group finds the group of a cloth in a problem.
func groupOf(t *testing.T, p *planning.Problem, id string) planning.Fabric {
	t.Helper()
	for _, f := range p.Fabrics {
		if f.ID == id {
			return f
		}
	}
	t.Fatalf("no fabric %s in the problem", id)
	return planning.Fabric{}
}

func TestWhatAPieceMayServeAs(t *testing.T) {
	all := []string{"body", "accent", "cuff"}
	for _, c := range []struct {
		name  string
		cloth func(*Cloth)
		roles []string
		turn  planning.Turn
	}{
		{"solid", func(c *Cloth) { c.Print = PrintSolid }, all, planning.Either},
		{"tonal", func(c *Cloth) { c.Print = PrintTonal }, all, planning.Either},
		{"feature print", func(c *Cloth) {}, all[:1], planning.Either},
		{"feature print ticked as trim", func(c *Cloth) { c.TrimOK = true }, all, planning.Either},
		{"one-way across", func(c *Cloth) { c.Turn = "across" }, all[:1], planning.Across},
		{"one-way along", func(c *Cloth) { c.Turn = "along" }, all[:1], planning.Along},
		{"border still on", func(c *Cloth) { c.Border = "one selvedge" }, all[:1], planning.Along},
		{"border still on, down one side by choice", func(c *Cloth) { c.Border, c.Turn = "one selvedge", "across" }, all[:1], planning.Across},
		{"border still on, solid ground", func(c *Cloth) { c.Border, c.Print = "both selvedges", PrintTonal }, all[:1], planning.Along},
		{"border strip", func(c *Cloth) { c.Strip = true }, all[:1], planning.Along},
		{"border strip ticked as trim", func(c *Cloth) { c.Strip, c.TrimOK = true, true }, all, planning.Along},
	} {
		t.Run(c.name, func(t *testing.T) {
			cloth := clothOf("1/1", PrintFeature, 90*inch, "navy")
			c.cloth(&cloth)
			p, left := inputOf(4, cloth).Problem()
			require.Empty(t, left)
			require.NoError(t, p.Validate())
			f := groupOf(t, p, "1/1")
			require.Equal(t, c.roles, f.Roles)
			require.Equal(t, c.turn, f.Turn)
		})
	}
}

func TestWhatWaits(t *testing.T) {
	unwashed := clothOf("2/1", PrintSolid, 90*inch, "navy")
	unwashed.Washed = false
	smoky := clothOf("3/1", PrintSolid, 90*inch, "navy")
	smoky.SetAside = "smells of smoke"
	in := inputOf(4, clothOf("1/1", PrintSolid, 90*inch, "navy"), unwashed, smoky)

	p, left := in.Problem()
	require.Equal(t, []LeftOut{{"2/1", WaitsWashing}, {"3/1", WaitsSetAside}}, left)
	require.Len(t, p.Fabrics, 1)

	in.Washing = CutLarger
	p, left = in.Problem()
	require.Equal(t, []LeftOut{{"3/1", WaitsSetAside}}, left)
	require.NotEqual(t, groupOf(t, p, "1/1").Group, groupOf(t, p, "2/1").Group, "washed and unwashed cloth never meet")
	require.NotContains(t, p.Trims[groupOf(t, p, "1/1").Group], groupOf(t, p, "2/1").Group)
}

func TestWhatMakesAGroup(t *testing.T) {
	base := clothOf("1/1", PrintFeature, 90*inch, "navy", "White")
	base.Themes = []string{"space"}
	same := base
	same.ID, same.Length, same.Width, same.Colours = "2/1", 20*inch, 20*inch, []string{"white", "navy"}
	cloths := []Cloth{base, same}
	for i, change := range []func(*Cloth){
		func(c *Cloth) { c.Fibre = "linen" },
		func(c *Cloth) { c.Weight = "flannel" },
		func(c *Cloth) { c.Print = PrintTonal },
		func(c *Cloth) { c.Turn = "along" },
		func(c *Cloth) { c.Colours = []string{"navy"} },
		func(c *Cloth) { c.Themes = []string{"sea"} },
		func(c *Cloth) { c.TrimOK = true },
		func(c *Cloth) { c.Strip = true },
		func(c *Cloth) { c.Border = "one selvedge" },
	} {
		other := base
		other.ID = ClothID(int64(10+i), 1)
		change(&other)
		cloths = append(cloths, other)
	}
	p, _ := inputOf(4, cloths...).Problem()
	require.NoError(t, p.Validate())
	require.Equal(t, groupOf(t, p, "1/1").Group, groupOf(t, p, "2/1").Group, "size and the order of colours make no group")
	seen := map[string]bool{}
	for _, f := range p.Fabrics[1:] {
		require.False(t, seen[f.Group], "%s shares the group %q", f.ID, f.Group)
		seen[f.Group] = true
	}
}

func TestWhichTrimsGoWithABody(t *testing.T) {
	body := clothOf("1/1", PrintFeature, 90*inch, "navy", "gold")
	flannel := clothOf("8/1", PrintSolid, 90*inch, "navy")
	flannel.Weight = "flannel"
	linen := clothOf("9/1", PrintSolid, 90*inch, "navy")
	linen.Fibre = "linen"
	p, _ := inputOf(4, body,
		clothOf("2/1", PrintSolid, 90*inch, "navy"),
		clothOf("3/1", PrintTonal, 90*inch, "gold", "rust"),
		clothOf("4/1", PrintSolid, 90*inch, "coral"),
		clothOf("5/1", PrintSolid, 90*inch, "gray"),
		clothOf("6/1", PrintTonal, 90*inch, "white", "coral"),
		clothOf("7/1", PrintSolid, 90*inch),
		flannel, linen,
	).Problem()
	trims := p.Trims[groupOf(t, p, "1/1").Group]
	goes := func(id string) bool {
		for _, g := range trims {
			if g == groupOf(t, p, id).Group {
				return true
			}
		}
		return false
	}
	for id, want := range map[string]bool{
		"1/1": false,             // a feature print that nobody ticked
		"2/1": true, "3/1": true, // share a colour
		"4/1": false,               // shares none
		"5/1": true,                // grey is a neutral, however it is spelt
		"6/1": false,               // white and coral is no neutral
		"7/1": false,               // nobody said its colour
		"8/1": false, "9/1": false, // other weight, other fibre
	} {
		require.Equal(t, want, goes(id), "cloth %s", id)
	}
}

func TestClothOfUnknownFibreMeetsNoOther(t *testing.T) {
	known := clothOf("1/1", PrintSolid, 90*inch, "white")
	a, b := clothOf("2/1", PrintSolid, 90*inch, "white"), clothOf("3/1", PrintSolid, 90*inch, "white")
	a.Fibre, b.Fibre = FibreNotSure, FibreNotSure
	second := a
	second.ID = "2/2"
	p, _ := inputOf(4, known, a, b, second).Problem()
	require.Equal(t, groupOf(t, p, "2/1").Group, groupOf(t, p, "2/2").Group, "pieces of one lot are alike")
	require.Equal(t, []string{groupOf(t, p, "2/1").Group}, p.Trims[groupOf(t, p, "2/1").Group])
}

func TestWhichBodiesSuitALine(t *testing.T) {
	space := clothOf("1/1", PrintFeature, 90*inch, "navy")
	space.Themes = []string{"space"}
	trains := clothOf("2/1", PrintFeature, 90*inch, "navy")
	trains.Themes = []string{"trains", "space"}
	plain := clothOf("3/1", PrintSolid, 90*inch, "navy")
	linen := space
	linen.ID, linen.Fibre = "4/1", "linen"
	for _, c := range []struct {
		name string
		want Want
		ids  []string
	}{
		{"any theme", Want{}, []string{"1/1", "2/1", "3/1", "4/1"}},
		{"a theme wanted", Want{ThemesWanted: []string{"space", "sea"}}, []string{"1/1", "2/1", "4/1"}},
		{"a theme to avoid", Want{ThemesAvoid: []string{"trains"}}, []string{"1/1", "3/1", "4/1"}},
		{"both", Want{ThemesWanted: []string{"space"}, ThemesAvoid: []string{"trains"}}, []string{"1/1", "4/1"}},
		{"one fibre only", Want{Fibres: []string{"cotton"}}, []string{"1/1", "2/1", "3/1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := inputOf(4, space, trains, plain, linen)
			c.want.ID, c.want.Sizes, c.want.Wanted, c.want.Weight = "7", []string{"1"}, 4, 1
			in.Wants = []Want{c.want}
			p, _ := in.Problem()
			var want []string
			for _, id := range c.ids {
				want = append(want, groupOf(t, p, id).Group)
			}
			require.ElementsMatch(t, want, p.Quotas[0].Bodies)
		})
	}
}

func TestNothingToPlanIsLeftOut(t *testing.T) {
	in := inputOf(0, clothOf("1/1", PrintSolid, 90*inch, "navy"))
	p, _ := in.Problem()
	require.Empty(t, p.Quotas)
	require.Empty(t, p.Cases)
}

// solved gives the problem of an input and a plain plan of it.
func solved(t require.TestingT, in PlanInput) (*planning.Problem, *planning.Plan) {
	p, _ := in.Problem()
	require.NoError(t, p.Validate())
	return p, plantest.Plain(p)
}

func TestWhyALineIsShort(t *testing.T) {
	feature := clothOf("1/1", PrintFeature, 90*inch, "coral")
	for _, c := range []struct {
		name   string
		cloths []Cloth
		change func(*Want)
		says   string
	}{
		{"nothing suits", []Cloth{feature}, func(w *Want) { w.ThemesWanted = []string{"space"} }, "No cloth on the shelf suits it. 40 more take about"},
		{"all too small", []Cloth{clothOf("1/1", PrintFeature, 20*inch, "coral")}, nil, "No piece of the coral prints (lot 1) is large enough for a body of 42 in × 27 in."},
		{"no trim goes with it", []Cloth{feature, clothOf("2/1", PrintFeature, 90*inch, "teal")}, nil, "Nothing on the shelf goes with the coral prints and teal prints (lots 1 and 2) as cuff and accent: 6 bodies wait for about 1 1/2 yd of cuff and 1/2 yd of accent. There is no more cloth for the other 34. 34 more take"},
		{"trim ran out", []Cloth{feature, clothOf("2/1", PrintSolid, 12*inch, "coral")}, nil, "What goes with the coral prints (lot 1) as cuff and accent is used up: 2 bodies wait"},
		{"used up", []Cloth{clothOf("1/1", PrintFeature, 30*inch, "coral"), clothOf("2/1", PrintSolid, 24*inch, "coral")}, nil, "used up. 39 more take about"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := inputOf(40, c.cloths...)
			if c.change != nil {
				c.change(&in.Wants[0])
			}
			p, plan := solved(t, in)
			reasons, err := planning.WhyNot(t.Context(), p, plan)
			require.NoError(t, err)
			require.Contains(t, ReasonWords(reasons, ReasonNames(length.In, nil, p))["1"], c.says)
		})
	}
	p, plan := solved(t, inputOf(1, feature, clothOf("2/1", PrintSolid, 24*inch, "coral")))
	reasons, err := planning.WhyNot(t.Context(), p, plan)
	require.NoError(t, err)
	require.Empty(t, reasons)
}

// Cloth of no known fibre is in no kit for somebody who takes certain fibres only; who can say what
// it is should hear of it.
func TestClothLeftAsideForItsFibre(t *testing.T) {
	first, second := clothOf("3/1", PrintFeature, 90*inch, "coral"), clothOf("12/2", PrintSolid, 90*inch, "navy")
	first.Fibre, second.Fibre = FibreNotSure, FibreNotSure
	in := inputOf(40, clothOf("1/1", PrintSolid, 90*inch, "navy"), second, first)
	p, _ := in.Problem()
	require.Equal(t, "lots 3 and 12", UnsureFibre(p, []string{"cotton"}))
	require.Empty(t, UnsureFibre(p, nil), "who takes any fibre takes this too")
	p, _ = inputOf(40, clothOf("1/1", PrintSolid, 90*inch, "navy")).Problem()
	require.Empty(t, UnsureFibre(p, []string{"cotton"}))
}

func TestNamesOfClothAndLines(t *testing.T) {
	names := ReasonNames(length.CM, []AskedLine{{Asked: Asked{Number: 7}, RecipientName: "Larkspur ward"}}, nil)
	require.Equal(t, "Larkspur ward", names.Quota("7"))
	require.Equal(t, "line 8", names.Quota("8"))
	require.Equal(t, "1.1 m", names.Cloth(planning.Whole(1001)))
	require.Equal(t, "2 1/4 yd", ReasonNames(length.In, nil, nil).Cloth(planning.MM(int64(81*length.Inch))))
	require.Equal(t, "4 kinds of cloth", names.Groups([]string{"a", "b", "c", "d"}))
	require.Equal(t, "the navy tonals and white and navy solids", names.Groups([]string{
		"cotton · quilting · washed · tonal · either · navy · –", "cotton · quilting · washed · solid · either · white, navy · –",
	}))
}

func TestWeightsCountAgainstEachOther(t *testing.T) {
	in := inputOf(4, clothOf("1/1", PrintSolid, 90*inch, "navy"))
	p, _ := in.Problem()
	require.Equal(t, planning.Whole(1), p.Quotas[0].Weight)
	second, third := in.Wants[0], in.Wants[0]
	second.ID, second.Weight = "2", 100
	third.ID, third.Weight, third.Wanted = "3", 7, 0
	in.Wants = append(in.Wants, second, third)
	p, _ = in.Problem()
	require.Equal(t, []planning.Decimal{planning.Whole(1), planning.Whole(10)}, []planning.Decimal{p.Quotas[0].Weight, p.Quotas[1].Weight})
}

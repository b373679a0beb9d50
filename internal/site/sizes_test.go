package site

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
	"boltward/internal/workbook"
)

// sizeTyped is body 42 × 27, cuff 9, accent 2 by its finished measures.
func sizeTyped(changes ...string) []string {
	typed := []string{
		"name", "ward", "unit", "in", "width", "20 1/2", "length", "30.5", "cuff", "4 1/4", "accent", "3/4", "seam_kind", "french",
		"seam", "1/4", "seam_second", "1/4", "join", "1/4", "body", "1", "do", "save",
	}
	for i := 0; i < len(changes); i += 2 {
		typed = append(without(typed, changes[i]), changes[i], changes[i+1])
	}
	return typed
}

func TestSizes(t *testing.T) {
	ts := newTestSite(t)
	organiser, desk := ts.as(account.Organiser), ts.as(account.Desk)
	organiser.get("/drives/spring/sizes").has("There is no size yet", "Ready-made")

	r := organiser.post("/drives/spring/sizes/ready-made", "name", "travel")
	require.Equal(t, http.StatusSeeOther, r.Status)
	organiser.follow(r).has("The size travel is added", `class="panel-body"`, `class="hatch-cuff"`)
	r = organiser.post("/drives/spring/sizes/ready-made", "name", "travel")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)
	r.has("There is a size of this name already.")
	r = organiser.post("/drives/spring/sizes/ready-made", "name", "moon")
	require.Equal(t, http.StatusUnprocessableEntity, r.Status)

	// common practice, no source: 20 1/2 × 30 1/2 finished comes of a body cut 42 × 27
	r = organiser.post("/drives/spring/sizes/new", sizeTyped()...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("body 42 × 27 in", "cuff 42 × 9 in", "accent 42 × 2 in", "finished 20 1/2 × 30 1/2 in")
	desk.get("/drives/spring/sizes").lacks("Stop offering it", "Ready-made")

	r = organiser.post("/drives/spring/sizes/2/retire")
	organiser.follow(r).has("The size ward is no longer offered", "/drives/spring/sizes/2/restore", "Offer it again")
	r = organiser.post("/drives/spring/sizes/2/restore")
	organiser.follow(r).has("The size ward is offered again")
	require.Equal(t, http.StatusNotFound, organiser.post("/drives/spring/sizes/9/retire").Status)
	require.Equal(t, http.StatusNotFound, organiser.get("/drives/spring/sizes/9").Status)
}

func TestSizeIsShownBeforeItIsSaved(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/sizes/new").has("body 41 × ", `value="20"`, "Show the cut sizes")
	r := organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "name", "")...)
	require.Equal(t, http.StatusOK, r.Status, r.Body)
	r.has("body 42 × 27 in")
	r = organiser.post("/drives/spring/sizes/new", without(sizeTyped(), "do")...)
	require.Equal(t, http.StatusOK, r.Status, "only the button that says so saves")
	organiser.get("/drives/spring/sizes").has("There is no size yet")

	r = organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "body", "2")...)
	r.has("body 2 of 21 1/2 × 27 in")
	r = organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "cuff", "", "accent", "", "join", "", "hem", "1", "turn", "1/4")...)
	r.has("body 42 × 32 1/4 in")
	r = organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "pillow", "king")...)
	r.has("too short for a pillow of 36 in")
}

func TestSizeByItsCuts(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.get("/drives/spring/sizes/new?by=cuts").has(`name="cut_cuff"`, "Type the finished size instead")
	cuts := sizeTyped("by", "cuts", "width", "", "length", "", "cuff", "", "accent", "", "cut", "42 x 27", "cut_cuff", "42 x 9", "cut_accent", "42 x 2")
	r := organiser.post("/drives/spring/sizes/new", cuts...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("finished 20 1/2 × 30 1/2 in")
	organiser.get("/drives/spring/sizes/1").has(`value="20 1/2"`, `value="4 1/4"`)
	organiser.get("/drives/spring/sizes/1?by=cuts").has(`value="42 x 27"`, `value="42 x 9"`)
	organiser.get("/drives/spring/sizes/new?by=cuts&copy=1").has(`value="42 x 27"`)
}

func TestSizeRefused(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	for name, tt := range map[string]struct {
		typed []string
		want  string
	}{
		"no name":                        {sizeTyped("name", ""), "Give the size a name"},
		"no width":                       {sizeTyped("width", ""), "The finished width is nothing"},
		"a width of words":               {sizeTyped("width", "wide"), `value="wide"`},
		"a negative length":              {sizeTyped("length", "-30"), `value="-30"`},
		"4 km":                           {sizeTyped("length", "4000 m"), "at most"},
		"a second seam that is too near": {sizeTyped("seam_second", "1/8"), `aria-invalid="true"`},
		"an accent deeper than the body": {sizeTyped("accent", "27"), "at most 26 1/4 in"},
		"a cuff longer than the case":    {sizeTyped("cuff", "31", "accent", ""), "is as long as the case or longer"},
		"a cuff and a hem":               {sizeTyped("hem", "1"), "leave one of them out"},
		"a cuff and a flap":              {sizeTyped("flap", "8", "accent", ""), "leave one of them out"},
		"no opening":                     {sizeTyped("cuff", "", "accent", ""), "Say how the open end is made"},
		"an unknown pillow":              {sizeTyped("pillow", "cloud"), "is no pillow known here"},
		"shrinks to nothing":             {sizeTyped("shrink", "100"), "shrink"},
		"cuts that are not two sides":    {sizeTyped("by", "cuts", "cut", "42"), `id="f-cut-said"`},
	} {
		r := organiser.post("/drives/spring/sizes/new", tt.typed...)
		require.Equal(t, http.StatusUnprocessableEntity, r.Status, name)
		r.has(tt.want)
	}
	organiser.get("/drives/spring/sizes").has("There is no size yet")
	r := organiser.post("/drives/spring/sizes/new", sizeTyped("seam_second", "1/8", "name", "")...)
	r.has(`href="#f-seam_second"`, "make the second at least 3/16 in", `href="#f-name"`, "2 things to put right")
	r.lacks(`href="#f-seam"`)
}

func TestSizeChangedByTwo(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.post("/drives/spring/sizes/new", sizeTyped()...)
	organiser.get("/drives/spring/sizes/1").has(`name="version" value="1"`)
	r := organiser.post("/drives/spring/sizes/1", sizeTyped("version", "1", "length", "31")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	r = organiser.post("/drives/spring/sizes/1", sizeTyped("version", "1", "length", "32", "width", "20.5 in", "accent", "0.75")...)
	require.Equal(t, http.StatusConflict, r.Status)
	r.has("Somebody else changed this", "Finished length", `data-label="Stands now">31<`, `data-label="You typed">32<`, `name="version" value="2"`, `value="32"`).lacks("Finished width</th>", "Accent</th>")
	r = organiser.post("/drives/spring/sizes/1", sizeTyped("version", "2", "length", "32")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
}

// What a form shows of a size, sent again, is that size: by its measures and by its cuts.
func TestSizeTypedIsTheSameSize(t *testing.T) {
	odd := sizing.Case{Name: "odd", Spec: sizing.Spec{
		Unit: length.In, Width: 20*length.Inch + 1, Length: 30 * length.Inch, Cuff: 4*length.Inch + 3, Join: length.Inch / 4,
		Seam: sizing.Seam{Kind: sizing.Plain, First: length.Inch / 2}, Body: sizing.FrontAndBack, Ease: length.Inch,
		Shrink: sizing.Shrink{Along: 525, Across: 300, Step: sizing.DefaultStep(length.In)},
	}}
	hemmed := sizing.Case{Name: "hemmed", Spec: sizing.Spec{
		Unit: length.CM, Width: 50 * length.Centimetre, Length: 80 * length.Centimetre, Seam: sizing.Seam{Kind: sizing.Plain, First: length.Centimetre},
		Body: sizing.Folded, Hem: sizing.Hem{Depth: 3 * length.Centimetre, Turn: length.Centimetre},
	}}
	for _, c := range append(sizing.Cases(), odd, hemmed) {
		for _, cuts := range []bool{false, true} {
			problems := map[string]string{}
			got := sizeAsTyped(drive.Size{Spec: c.Spec}, cuts).spec(problems)
			require.Empty(t, problems, "%s, by cuts: %t", c.Name, cuts)
			want, _, err := sizing.Cuts(c.Spec)
			require.NoError(t, err)
			panels, _, err := sizing.Cuts(got)
			require.NoError(t, err)
			require.Equal(t, sizing.CutsOf(want), sizing.CutsOf(panels), "%s, by cuts: %t", c.Name, cuts)
			if !cuts {
				require.Equal(t, c.Spec, got, c.Name)
			}
		}
	}
}

func TestSizeAgainstTheDrivesWashing(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	form := organiser.get("/drives/spring/sizes/new")
	form.lacks(`name="shrink"`, "This drive")
	organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "shrink", "5, 3")...).has("This drive washes all fabric before it is cut", `name="shrink"`)
	r := organiser.post("/drives/spring/settings", "name", "Spring", "zone", "UTC", "unit", "in", "washing", "cut larger",
		"kit_cases", "4", "spare_share", "0", "keep_width", "9", "keep_length", "18", "version", "1")
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.get("/drives/spring/sizes/new").has(`name="shrink"`, "does not say by how much it shrinks")
	// common practice, no source: 42 / (1 − 3 %) = 43.299, 27 / (1 − 5 %) = 28.421, rounded up to 1/4 in
	page := organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "shrink", "5, 3")...)
	page.has("body 43 1/2 × 28 1/2 in")
	page.lacks("This drive")
}

// What stands in stock decides what is said about a body that no cloth is wide enough for.
func TestSizeWiderThanTheStock(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	ts.lay(40*length.Inch, 3*length.Yard)
	organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show")...).has("No fabric in stock takes a body of 42 in around across its width", "cut it front and back")
	organiser.post("/drives/spring/sizes/new", sizeTyped("do", "show", "width", "19")...).lacks("No fabric in stock")
}

// lay puts a measured piece of cloth on the shelf.
func (ts *testSite) lay(width, long length.Length) {
	ts.t.Helper()
	for _, q := range []string{
		`INSERT INTO lots (drive_id, number, received_on, created_at, raw_length, raw_width, fibre, weight, print, measured_at)
			VALUES ('spring', 1, '2026-03-01', now(), $1, $2, 'cotton', 'quilting', 'solid', now())`,
		`INSERT INTO pieces (drive_id, lot, piece, kind, width) SELECT 'spring', 1, 1, 'whole', $2::bigint WHERE $1::bigint > 0`,
		`INSERT INTO fabric_entries (drive_id, lot, piece, kind, from_account, to_account, length, area, at, who)
			VALUES ('spring', 1, 1, 'measured', 'outside', 'free', $1::bigint, $1::bigint * $2::bigint, now(), 0)`,
	} {
		_, err := ts.DB.Pool.Exec(ts.t.Context(), q, long, width)
		require.NoError(ts.t, err)
	}
}

func TestSizeInUseIsOnlyRenamed(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.post("/drives/spring/sizes/new", sizeTyped()...)
	form := organiser.get("/drives/spring/sizes/1")
	form.has(`name="width"`)
	ts.stand("first", 0, 1, 0)
	form = organiser.get("/drives/spring/sizes/1")
	form.has("its measures stay", "body 42 × 27 in")
	form.lacks(`name="width"`, "Show the cut sizes")
	r := organiser.post("/drives/spring/sizes/1", sizeTyped("version", "1", "name", "renamed", "length", "33")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("renamed", "finished 20 1/2 × 30 1/2 in")
}

func TestSizesOfMetricDrive(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	r := organiser.post("/drives/new", "name", "Metre", "unit", "cm", "zone", "UTC")
	require.Equal(t, http.StatusSeeOther, r.Status)
	organiser.get("/drives/metre/sizes/new").has(`value="cm"`, `value="50"`)
	r = organiser.post("/drives/metre/sizes/new", sizeTyped("unit", "cm", "width", "50", "length", "80", "cuff", "11", "accent", "2",
		"seam", "5mm", "seam_second", "5mm", "join", "7 mm")...)
	require.Equal(t, http.StatusSeeOther, r.Status, r.Body)
	organiser.follow(r).has("body 102 × 70.7 cm", "cuff 102 × 23.4 cm")
}

// Flaws are written in the unit that people measure in, and what is shown can be typed.
func TestFlawsAreShownInTheDrivesUnit(t *testing.T) {
	ts := newTestSite(t)
	organiser := ts.as(account.Organiser)
	organiser.post("/drives/new", "name", "Metre", "unit", "cm", "zone", "UTC")
	organiser.get("/drives/spring/fabric/grid").has("Flaws: 30 to 33 in.")
	organiser.get("/drives/metre/fabric/grid").has("Flaws: 75 to 83 cm.").lacks("33 in.")
	organiser.post("/drives/metre/fabric/tag", "pieces", "1")
	organiser.get("/drives/metre/fabric/1/measure").has("75 to 83 cm across; 100 to 105 cm, 8 cm in from the edge.")
	organiser.post("/drives/metre/fabric/1/measure", measuring("length", "3 m", "width", "110", "then", "lot")...)
	organiser.get("/drives/metre/fabric/1/pieces/1/discard").has("At its full width: 1.5, 70 cm, 2 yd.").lacks("27 in, 2 m")
	organiser.post("/drives/metre/fabric/1/pieces/1/part", "how", "flaw", "flaws", "").has("Say where the flaw is, like 75 to 83 cm across.")
	organiser.post("/drives/metre/fabric/1/pieces/1/part", "how", "flaw", "flaws", "a hole").has("write it like 75 to 83 cm across")
	organiser.get("/drives/metre/sizes/new").has("a size such as 50 x 75.")
	organiser.get("/drives/spring/sizes/new").has("a size such as 20 x 26.")
	for unit, said := range map[length.Unit]string{length.CM: flawsLike(length.CM, "\n"), length.In: flawsLike(length.In, "\n")} {
		flaws, left, err := workbook.ParseFlaws(strings.TrimSuffix(said, "."), unit)
		require.NoError(t, err, said)
		require.Empty(t, left, said)
		require.Len(t, flaws, 2, said)
	}
}

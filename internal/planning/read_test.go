package planning

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const sound = `{"unit": "in", "fabrics": [{"id": "F1", "length": 41.5, "width": 43, "group": "navy", "roles": ["body", "cuff"]}],
 "cases": [{"id": "child", "panels": [{"role": "body", "around": 29, "along": 17.5}, {"role": "cuff", "around": 29, "along": 7}]}],
 "trims": {"navy": ["navy"]}, "quotas": [{"id": "ward", "cases": ["child"], "wanted": 3, "bodies": ["navy"]}], "kit": {"cases": 4}}`

func TestReadProblemFillsInDefaults(t *testing.T) {
	p, err := ReadProblem(strings.NewReader(sound))
	require.NoError(t, err)
	require.Equal(t, 1, p.Fabrics[0].Pieces)
	require.Equal(t, Either, p.Fabrics[0].Turn)
	require.Equal(t, Whole(1), p.Quotas[0].Weight)
	require.Equal(t, "41.5", p.Fabrics[0].Length.String())
	require.Equal(t, Keep{Whole(9), Whole(18)}, p.KeepSides())
}

func TestReadProblemListsEveryFaultByItsPath(t *testing.T) {
	for _, c := range []struct {
		name, from, to, path, why string
	}{
		{"unknown unit", `"unit": "in"`, `"unit": "ell"`, "unit", "in, cm or mm"},
		{"not above 0", `"length": 41.5`, `"length": 0`, "fabrics[0].length", "above 0"},
		{"negative", `"width": 43`, `"width": -43`, "fabrics[0].width", "above 0"},
		{"over 10 km", `"length": 41.5`, `"length": 400000`, "fabrics[0].length", "10 km"},
		{"no number", `"length": 41.5`, `"length": "long"`, "fabrics[0].length", "not a decimal"},
		{"tiny", `"length": 41.5`, `"length": 1e-300`, "fabrics[0].length", "decimals"},
		{"huge", `"length": 41.5`, `"length": 1e300`, "fabrics[0].length", "not a number of this size"},
		{"a count of 1.5", `"id": "F1",`, `"id": "F1", "pieces": 1.5,`, "fabrics[0].pieces", "whole"},
		{"too many pieces", `"id": "F1",`, `"id": "F1", "pieces": 200001,`, "fabrics", "200000"},
		{"unknown turn", `"id": "F1",`, `"id": "F1", "turn": "round",`, "fabrics[0].turn", "across, along or either"},
		{"no body", `"role": "body"`, `"role": "flap"`, "cases[0].panels", "needs a body"},
		{"role twice", `"role": "cuff"`, `"role": "body"`, "cases[0].panels[1].role", "twice"},
		{"unknown case", `"cases": ["child"]`, `"cases": ["queen"]`, "quotas[0].cases[0]", "no case"},
		{"wanted text", `"wanted": 3`, `"wanted": "three"`, "quotas[0].wanted", "whole number"},
		{"wanted below 0", `"wanted": 3`, `"wanted": -1`, "quotas[0].wanted", "0 to"},
		{"weight 0", `"wanted": 3`, `"wanted": 3, "weight": 0`, "quotas[0].weight", "above 0"},
		{"kit of none", `"kit": {"cases": 4}`, `"kit": {"cases": 0}`, "kit.cases", "at least 1"},
		{"no kit", `, "kit": {"cases": 4}`, ``, "kit", "missing"},
		{"no trims", `"trims": {"navy": ["navy"]},`, ``, "trims", "missing"},
		{"no group", `"group": "navy", `, ``, "fabrics[0].group", "missing"},
	} {
		bad := strings.Replace(sound, c.from, c.to, 1)
		require.NotEqual(t, sound, bad, c.name)
		_, err := ReadProblem(strings.NewReader(bad))
		require.Contains(t, apperr.Fields(err)[c.path], c.why, "%s: %v", c.name, err)
	}
}

func TestReadProblemListsSeveralFaultsAtOnce(t *testing.T) {
	bad := strings.NewReplacer(`"width": 43`, `"width": 0`, `"around": 29`, `"around": -1`, `"wanted": 3`, `"wanted": 2.5`).Replace(sound)
	_, err := ReadProblem(strings.NewReader(bad))
	fields := apperr.Fields(err)
	for _, path := range []string{"fabrics[0].width", "cases[0].panels[0].around", "cases[0].panels[1].around", "quotas[0].wanted"} {
		require.Contains(t, fields, path)
	}
}

func TestGroupsMustServeAlike(t *testing.T) {
	two := strings.Replace(sound, `"fabrics": [`, `"fabrics": [{"id": "F0", "length": 9, "width": 9, "group": "navy", "roles": ["body"], "turn": "along"}, `, 1)
	_, err := ReadProblem(strings.NewReader(two))
	require.Contains(t, apperr.Fields(err), "fabrics[1].turn")
	require.Contains(t, apperr.Fields(err), "fabrics[1].roles")
}

// Editors and spreadsheets of some systems put a byte order mark before what they save.
func TestAByteOrderMarkSaysNothing(t *testing.T) {
	p, err := ReadProblem(strings.NewReader("\ufeff" + sound))
	require.NoError(t, err)
	require.Equal(t, "in", p.Unit)
	_, err = ReadProblem(strings.NewReader("\xff\xfe{\x00}\x00"))
	require.ErrorContains(t, err, "save it as UTF-8")
}

func TestWhatIsNoJSONIsPointedAt(t *testing.T) {
	for _, c := range []struct{ text, why string }{
		{"{\n \"unit\": \"in\",\n \"größe\": +3\n}", "line 3, letter 11"},
		{"{\"unit\": NaN}", "line 1, letter 10"},
		{"{}\n\n  {}", "follows after the end of the JSON object, at line 3, letter 3"},
		{"{}\n!", "at line 2, letter 1"},
	} {
		_, err := ReadProblem(strings.NewReader(c.text))
		require.ErrorContains(t, err, c.why)
	}
}

// A fabric that is a number is one fault, not one for each length it does not have.
func TestWhatIsNoObjectIsRefusedOnce(t *testing.T) {
	bad := strings.Replace(sound, `"fabrics": [`, `"fabrics": [7, `, 1)
	_, err := ReadProblem(strings.NewReader(bad))
	require.Equal(t, map[string]string{"fabrics[0]": "must be an object"}, apperr.Fields(err))
	_, err = ReadProblem(strings.NewReader("[]"))
	require.ErrorContains(t, err, "must hold one JSON object")
	require.NotContains(t, err.Error(), "unit")
}

func TestLongNumbersAreNotSaidInFull(t *testing.T) {
	long := "41." + strings.Repeat("1", 500)
	_, err := ReadProblem(strings.NewReader(strings.Replace(sound, "41.5", long, 1)))
	require.ErrorContains(t, err, "has more than 9 decimals")
	require.Less(t, len(err.Error()), 200)
	require.Equal(t, strings.Repeat("a", 39)+"…", short(strings.Repeat("a", 39)+"ééé"), "no letter is cut in two")
}

// What is read with empty lists can be written and read again.
func TestEmptyListsStayLists(t *testing.T) {
	p, err := ReadProblem(strings.NewReader(`{"unit": "cm", "fabrics": [], "cases": [], "trims": {}, "quotas": [], "kit": {"cases": 1}}`))
	require.NoError(t, err)
	text, err := json.Marshal(p)
	require.NoError(t, err)
	again, err := ReadProblem(bytes.NewReader(text))
	require.NoError(t, err, "%s", text)
	require.Equal(t, p, again)
	plan, err := Solve(context.Background(), p, Options{})
	require.NoError(t, err)
	text, err = json.Marshal(plan)
	require.NoError(t, err)
	require.Contains(t, string(text), `"quotas":[]`)
	y, err := Yield(context.Background(), p, plan, Fabric{ID: "lot", Length: Whole(1), Width: Whole(1), Pieces: 1, Group: "a", Turn: Either})
	require.NoError(t, err)
	text, err = json.Marshal(y)
	require.NoError(t, err)
	require.JSONEq(t, `{"alone": [], "completes": 0, "weight": 0, "quotas": []}`, string(text))
}

func TestNotJSON(t *testing.T) {
	for _, text := range []string{"", "{", "[]", "3", sound + "x", `{"unit": 3}`} {
		_, err := ReadProblem(strings.NewReader(text))
		require.True(t, apperr.Is(err, apperr.KindInvalid), "%q gave %v", text, err)
	}
}

func TestDecimalsAreExact(t *testing.T) {
	for in, want := range map[string]string{"41.50": "41.5", "1e3": "1000", "0.1": "0.1", "2.5e-2": "0.025", "007": "7", "1600E-3": "1.6", "-0": "0"} {
		d, err := ParseDecimal(in)
		require.NoError(t, err, in)
		require.Equal(t, want, d.String())
	}
	for _, bad := range []string{"", ".", "1.2.3", "1e", "x", "1e999", "0.0000000001", "99999999999999999999", "0x10", "1_0"} {
		_, err := ParseDecimal(bad)
		require.Error(t, err, bad)
	}
	require.Equal(t, "1041.4", MM(1041*1600+640).String(), "41 in in 1/1600 mm")
	rapid.Check(t, func(t *rapid.T) {
		d := MM(rapid.Int64Range(0, 1<<40).Draw(t, "n"))
		again, err := ParseDecimal(d.String())
		require.NoError(t, err)
		require.Equal(t, d, again)
	})
}

func FuzzReadProblem(f *testing.F) {
	f.Add([]byte(sound))
	f.Add([]byte(`{"unit":"mm","fabrics":[{"id":"x","length":1e7,"width":0.000000001,"pieces":200000}],"fixed":{"layouts":[{}],"kits":[{"pillowcases":[{"body":["a"]}]}]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadProblem(bytes.NewReader(data))
		if err != nil {
			require.True(t, apperr.Is(err, apperr.KindInvalid), "a fault of the file must be one a person can read: %v", err)
			return
		}
		require.NoError(t, p.Validate())
		text, err := json.Marshal(p)
		require.NoError(t, err)
		again, err := ReadProblem(bytes.NewReader(text))
		require.NoError(t, err)
		require.Equal(t, p.Fabrics, again.Fabrics)
		require.Equal(t, p.Quotas, again.Quotas)
	})
}

func FuzzReadPlan(f *testing.F) {
	f.Add([]byte(`{"unit":"in","summary":{"weight_made":1},"layouts":[{"fabric":"F1","piece":1,"used":17.5,"panels":[{"id":"a","role":"body","case":"child","x":0,"y":0,"w":29,"h":17.5}]}],"kits":[{"id":"K1","quota":"ward","case":"child","pillowcases":[{"body":["a"],"cuff":["b"]}]}],"quotas":[{"id":"ward","made":1}]}`))
	p, err := ReadProblem(strings.NewReader(sound))
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		plan, err := ReadPlan(bytes.NewReader(data))
		if err != nil {
			require.True(t, apperr.Is(err, apperr.KindInvalid))
			return
		}
		Check(p, plan) // must judge anything without failing
	})
}

package planning

import (
	"strings"
	"testing"

	"boltward/internal/apperr"

	"github.com/stretchr/testify/require"
)

// A field that looks like one that is read is told of; one of somebody's own is not.
func TestMisspeltFieldsAreTold(t *testing.T) {
	text := `{"unit": "mm", "note": "ours", "Keep": {"width": 1, "length": 1}, "trims": {"peices": []}, "kit": {"cases": 1, "kind": 2},
		"fabrics": [
			{"id": "a", "length": 10, "width": 10, "peices": 3, "group": "g", "roles": ["body"], "colour": "navy", "with": 3},
			{"id": "b", "length": 10, "width": 10, "peices": 3, "pieces": 2, "group": "g", "roles": ["body"], "turns": "along"},
			{"id": "c", "length": 10, "width": 10, "peices": 3, "group": "g", "roles": ["body"]}],
		"cases": [{"id": "c", "name": "small", "panels": [{"role": "body", "around": 10, "along": 10, "pcs": 1, "piece": 1}]}],
		"quotas": [{"id": "q", "cases": ["c"], "wanted": 1, "bodies": ["g"], "weigth": 2, "due": "soon"}]}`
	p, notes, err := ReadProblemNoted(strings.NewReader(text))
	require.NoError(t, err)
	require.Equal(t, 1, p.Fabrics[0].Pieces)
	require.Equal(t, []string{
		`Keep is not read; is "keep" meant?`,
		`cases[0].panels[0].piece is not read; is "pieces" meant?`,
		`fabrics[0].peices is not read, as 1 more of that name; is "pieces" meant?`,
		`fabrics[1].turns is not read; is "turn" meant?`,
		`quotas[0].weigth is not read; is "weight" meant?`,
	}, notes)
	_, notes, err = ReadProblemNoted(strings.NewReader(strings.Replace(text, `"wanted"`, `"wnated"`, 1)))
	require.Equal(t, map[string]string{"quotas[0].wanted": "missing"}, apperr.Fields(err))
	require.Contains(t, notes, `quotas[0].wnated is not read; is "wanted" meant?`)
	_, notes, err = ReadProblemNoted(strings.NewReader(sound))
	require.NoError(t, err)
	require.Empty(t, notes)
}

// What is settled and wrong is named by its path, as everything else in the file.
func TestFaultsOfWhatIsSettledHaveTheirPath(t *testing.T) {
	settled := `{"unit": "mm", "trims": {}, "kit": {"cases": 1},
		"fabrics": [{"id": "a", "length": 10, "width": 10, "group": "g", "roles": ["body"]}],
		"cases": [{"id": "c", "panels": [{"role": "body", "around": 10, "along": 10}]}],
		"quotas": [{"id": "q", "cases": ["c"], "wanted": 0, "bodies": ["g"]}],
		"fixed": {"layouts": [{}, {"fabric": "a", "piece": 1, "used": 10, "remnants": [],
				"panels": [{"id": "x", "role": "body", "case": "c", "x": 0, "y": 0, "w": 10, "h": 10}]}],
			"kits": [{"id": "1", "quota": "q", "case": "c", "pillowcases": [{"body": ["x"]}]}, {"id": "2", "quota": "none"}]}}`
	_, err := ReadProblem(strings.NewReader(settled))
	require.Equal(t, map[string]string{
		"fixed.layouts[0]": "there is no such fabric",
		"fixed.kits[1]":    `there is no quota "none" that takes case ""`,
		"quotas[0].wanted": `quota "q" wants 0 and the fixed kits hold 1`,
	}, apperr.Fields(err))
	_, err = ReadProblem(strings.NewReader(strings.Replace(settled, `"w": 10`, `"w": 9`, 1)))
	require.Contains(t, apperr.Fields(err), "fixed.layouts[1].panels[0]")
}

package main

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/sizing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden holds got against testdata/name.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "go test -update writes it")
	require.Equal(t, string(want), got, name)
}

func TestSizeGolden(t *testing.T) {
	for name, line := range map[string]string{
		"size_finished.json":   "--finished 20.5x30.5in --cuff 4.25in --accent 0.75in --join 1/4in --seam french:1/4in+1/4in --json",
		"size_two.json":        "--finished 20.5x30.5in --cuff 4.25in --accent 0.75in --join 1/4in --seam french:1/4in+1/4in --body 2 --json",
		"size_cut.json":        "--cut body=42x27in,cuff=42x9in,accent=42x2in --join 1/4in --seam french:1/4in+1/4in --json",
		"size_cut_cm.json":     "--cut body=42x27in,cuff=42x9in,accent=42x2in --join 1/4in --seam french:1/4in+1/4in --json --unit cm",
		"size_king.json":       "--json --cut body=40x31.5in,cuff=40x9in --join 1/4in --seam french:1/4in+1/4in --pillow king",
		"size_hem_shrink.txt":  "--finished 50x81cm --hem 2cm+1cm --seam french:5mm+5mm --shrink 5,3",
		"size_flap.txt":        "--finished 20x30in --flap 13in --hem 3/4in+1/4in --seam french:1/2in+1/2in --pillow 20x30in",
		"size_finished.txt":    "--finished 20.5x30.5in --cuff 4.25in --accent 0.75in --join 1/4in --seam french:1/4in+1/4in --pieced-cuff",
		"size_finished_cm.txt": "--finished 20.5x30.5in --cuff 4.25in --join 1/4in --seam plain:1/2in --unit cm",
	} {
		code, stdout, stderr := runAs(t, commands(), append([]string{"size"}, strings.Fields(line)...)...)
		require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		require.Empty(t, stderr, line)
		golden(t, name, stdout)
	}
}

// Both directions give the same answer.
func TestSizeBothWays(t *testing.T) {
	var answers []sizing.Report
	for _, name := range []string{"size_finished.json", "size_cut.json"} {
		text, err := os.ReadFile(filepath.Join("testdata", name))
		require.NoError(t, err)
		var r sizing.Report
		require.NoError(t, json.Unmarshal(text, &r))
		answers = append(answers, r)
	}
	require.Equal(t, answers[0], answers[1])
}

func TestSizeAssumesAloud(t *testing.T) {
	code, _, stderr := runAs(t, commands(), "size", "--finished", "20 x 30", "--cuff", "4", "--unit", "in")
	require.Equal(t, exitDone, code)
	require.Equal(t, "no --seam given: a French seam of 1/4 in, then 1/4 in, is taken\nno --join given: 1/4 in is taken\n", stderr)
}

func TestSizeRefuses(t *testing.T) {
	for line, why := range map[string]string{
		"":                                  "give either --finished or --cut",
		"--finished 20x30in --cut body=1x1": "give either --finished or --cut",
		"--cut body=42x27in,cuff=42x9in --cuff 4in":                            "leave out --cuff and --accent",
		"--finished 20x30":                                                     "--finished: The first side: 20 has no unit",
		"--finished 20x30in":                                                   "--cuff: Say how the open end is made",
		"--finished 20x30ells --cuff 4in":                                      `--finished: The second side: "ells" is not a unit known here`,
		"--finished 20x30in --unit furlong":                                    `--unit: "furlong" is not a unit known here`,
		"--finished 4000mx30in --cuff 4in":                                     "--finished: The finished width of 400000 cm is too much: at most 300 cm",
		"--finished -20x30in --cuff 4in":                                       `is less than nothing`,
		"--finished 0x30in --cuff 4in":                                         "--finished: The finished width is nothing",
		"--finished 20x30in --cuff 31in":                                       "--cuff: A cuff of 31 in is as long as the case or longer: at most 29 63/64 in.",
		"--finished 20x30in --cuff 4in --accent 27in":                          "--accent: An accent of 27 in is deeper than the 26 in of the body that show: at most 26 in.",
		"--finished 20x30in --cuff 4in --seam french:1/4in+1/8in":              "--seam: The second French seam of 1/8 in does not clear the first one, which is trimmed to 1/8 in: make the second at least 3/16 in.",
		"--finished 20x30in --cuff 4in --seam zigzag":                          `--seam: "zigzag" is not a seam`,
		"--finished 20x30in --cuff 4in --body two":                             "--body: The body is cut in 1 piece",
		"--finished 20x30in --cuff 4in --body 3":                               "--body: The body is cut in 1 piece",
		"--finished 20x30in --cuff 4in --shrink lots":                          `--shrink: Along the cloth: "lots" is not a share`,
		"--finished 20x30in --cuff 4in --pillow sofa":                          `--pillow: "sofa" is no pillow known here`,
		"--finished 20x30in --hem deep":                                        "--hem: The hem's depth: ",
		"--finished 20x30in --cuff 4in --hem 1in":                              "--hem: A case with a cuff has no hem",
		"--cut cuff=42x9in":                                                    "--cut: A body is missing",
		"--cut body=42x27in,cuff=42x1/4in --join 1/4in":                        "--cut: The cuff, cut 1/4 in along, is lost in the seams: cut it more than 1/2 in.",
		"--finished 20x30in --cuff 4in --join 1,250in":                         "--join: 1,250 can mean 1250 or 1.250",
		"--finished 20x30in --cuff 4in --accent 3/4in 7":                       `"7" is out of place`,
		"--finished 99999999999999999999999999999999999999999x30in --cuff 4in": "that is more than 10 km",
	} {
		code, stdout, stderr := runAs(t, commands(), append([]string{"size"}, strings.Fields(line)...)...)
		require.Equal(t, exitBad, code, "%s: %s", line, stderr)
		require.Empty(t, stdout, line)
		require.Contains(t, stderr, why, line)
	}
}

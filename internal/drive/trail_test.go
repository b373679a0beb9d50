package drive_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
	"boltward/internal/length"
)

func TestChangesOfTheTrailInWords(t *testing.T) {
	names := map[drive.TrailThing]string{
		{Kind: "person", Which: "12"}: "Mary Ellis", {Kind: "size", Which: "1"}: "standard", {Kind: "recipient", Which: "2"}: "Heron ward",
	}
	for _, test := range []struct {
		act, kind, changes string
		want               []string
	}{
		{"handed out", "kit", `{"person": {"to": 12}, "due": {"to": "2026-12-14"}}`, []string{"due: 14 Dec 2026", "person: Mary Ellis"}},
		{"person changed", "person", `{"email": {"to": "changed"}, "heads": {"from": 1, "to": 3}}`, []string{"email changed", "heads: 1, now 3"}},
		{
			"asked for", "asked", `{"wanted": {"from": 0, "to": 40}, "sizes": {"from": null, "to": [1, 7]}, "recipient": {"from": 0, "to": 2}, "note": {"to": "changed"}, "themes avoid": {"from": null, "to": null}}`,
			[]string{"note changed", "recipient: Heron ward", "sizes: standard, 7", "wanted: 40"},
		},
		{"asked for changed", "asked", `{"wanted": {"from": 40, "to": 0}, "due": {"from": "2026-12-14", "to": ""}}`, []string{"due: 14 Dec 2026, taken away", "wanted: 40, now 0"}},
		{"drive changed", "drive", `{"keep width": {"from": 365760, "to": 406400}, "unit": {"from": "in", "to": "cm"}}`, []string{"remnants kept, width: 9 in, now 10 in", "unit: in, now cm"}},
		{"taken back", "kit", `{"left": {"to": 3}, "rest unsewn": {"to": false}}`, []string{"left: 3", "rest unsewn: no"}},
		{"label paper changed", "label paper", `{"left": {"from": 40640, "to": 0}}`, []string{"left: 1 in, taken away"}},
		{"split", "kit", `{"part": {"to": {"part": 2, "number": 25}}}`, []string{"part: 25-2"}},
		{
			"size changed", "size", `{"spec": {"from": {"cuff": 172720, "seam": {"kind": "french", "first": 10160}, "shrink": {"along": 250}}, "to": {"cuff": 162560, "seam": {"kind": "plain", "first": 10160}, "shrink": {"along": 300}}}}`,
			[]string{"measures, cuff: 4 1/4 in, now 4 in", "measures, seam, kind: french, now plain", "measures, shrink, along: 2.5 %, now 3 %"},
		},
		{"reminders changed", "drive", `{"quiet": {"from": [6, 0], "to": null}}`, []string{"quiet: Saturday, Sunday, taken away"}},
		{"booked as lost", "kit", `{}`, nil},
	} {
		e := drive.TrailEntry{Act: test.act, Kind: test.kind, Changes: []byte(test.changes)}
		changes, err := drive.TrailChanges(e, length.In, names)
		require.NoError(t, err)
		var got []string
		for _, c := range changes {
			got = append(got, c.Text())
		}
		require.Equal(t, test.want, got, "TrailChanges(%s %s)", test.act, test.changes)
	}
	_, err := drive.TrailChanges(drive.TrailEntry{ID: 7, Changes: []byte(`[1]`)}, length.In, nil)
	require.ErrorContains(t, err, "entry 7", "what is no trail is not passed over")
}

func TestThingsThatTheTrailNames(t *testing.T) {
	e := drive.TrailEntry{Who: 3, Kind: "asked", Subject: "4", Changes: []byte(`{"sizes": {"from": [1], "to": [1, 2]}, "recipient": {"from": 0, "to": 5}}`)}
	named, err := drive.TrailNamed(e)
	require.NoError(t, err)
	require.ElementsMatch(t, []drive.TrailThing{{"asked", "4"}, {"account", "3"}, {"size", "1"}, {"size", "1"}, {"size", "2"}, {"recipient", "5"}}, named)
	require.Equal(t, drive.TrailThing{Kind: "person", Which: "12"}, drive.TrailEntry{Link: "person 12"}.By())
	require.Zero(t, drive.TrailEntry{}.By())
}

func FuzzTrailChanges(f *testing.F) {
	f.Add("size", `{"spec": {"from": {"cuff": 1}, "to": 7}}`)
	f.Add("kit", `{"part": {"to": {"part": {}, "number": []}}}`)
	f.Fuzz(func(t *testing.T, kind, changes string) {
		e := drive.TrailEntry{Kind: kind, Changes: []byte(changes)}
		told, err := drive.TrailChanges(e, length.CM, nil)
		_, also := drive.TrailNamed(e)
		require.Equal(t, err == nil, also == nil, "both read the same")
		for _, c := range told {
			require.NotPanics(t, func() { c.Text() })
		}
	})
}

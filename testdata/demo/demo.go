// Package demo holds the files of an invented drive, as a real organiser keeps
// them: fabric, who gave it, those who sew, what is asked for. Nobody in them exists.
package demo

import _ "embed"

// The CSV files beside this one.
var (
	//go:embed fabric.csv
	Fabric string
	//go:embed people.csv
	People string
	//go:embed donors.csv
	Donors string
	//go:embed asked.csv
	Asked string
)

// Written is the day on which the files were current, so that a loader can move
// their dates to its own day.
const Written = "2026-11-25"

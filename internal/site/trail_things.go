package site

import (
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// thing is a kind of thing that the audit trail tells about.
type thing struct {
	kind, label string
	// parts is where one of them is looked at, below the drive; "*" is its number.
	// Empty: it has no page.
	parts string
	// alone says that the label is enough: its number says nothing to people.
	alone bool
}

// things are all kinds in the order of a drive's pages.
func things() []thing {
	return []thing{
		{kind: "drive", label: "The drive", parts: "settings", alone: true},
		{kind: "account", label: "Somebody who signs in", parts: "settings/people/*"},
		{kind: "invite", label: "Invitation", parts: "settings/people"},
		{kind: "pass", label: "Pass", parts: "settings/passes"},
		{kind: "recipient", label: "Recipient", parts: "recipients/*"},
		{kind: "asked", label: "Line asked for", parts: "asked/*"},
		{kind: "standing", label: "Standing request", parts: "asked/every-month/*"},
		{kind: "lot", label: "Lot", parts: "fabric/*"},
		{kind: "donor", label: "Donor", parts: "donors/*"},
		{kind: "thanks", label: "Thanks", parts: "donors/thanks"},
		{kind: "stocktake", label: "Stocktake", parts: "fabric/stocktakes/*"},
		{kind: "supply", label: "Supply", parts: "fabric/supplies/*"},
		{kind: "label paper", label: "Label paper", parts: "fabric/label-papers/*"},
		{kind: "label print", label: "Print of labels", parts: "fabric/labels"},
		{kind: "plan", label: "Plan", parts: "plan/*"},
		{kind: "rule", label: "Rule by eye", parts: "plan"},
		{kind: "sheet", label: "Cut sheet", parts: "cutting/*"},
		{kind: "kit", label: "Kit", parts: "kits/*"},
		{kind: "person", label: "Person", parts: "people/*"},
		{kind: "reminder", label: "Reminder", parts: "people/reminders"},
		{kind: "pillowcases", label: "Pillowcases, step", parts: "back"},
		{kind: "laundry", label: "Laundry", parts: "back/laundry"},
		{kind: "box", label: "Box", parts: "deliveries/box/*"},
		{kind: "delivery", label: "Delivery", parts: "deliveries/*"},
		{kind: "size", label: "Size", parts: "sizes/*"},
		{kind: "upload", label: "File", parts: "books/in"},
		{kind: "import", label: "Spreadsheet of", parts: "books/in"},
	}
}

// thingOf gives the kind of this name; one that is not listed is called by its name.
func thingOf(kind string) thing {
	for _, t := range things() {
		if t.kind == kind {
			return t
		}
	}
	if kind == "" {
		return thing{label: "Something"}
	}
	return thing{kind: kind, label: strings.ToUpper(kind[:1]) + kind[1:]}
}

// thingPath gives where a thing is looked at; empty where it has no page.
func (s *Site) thingPath(c *gin.Context, of drive.TrailThing) string {
	where := thingOf(of.Kind).parts
	if where == "" || of.Kind == "kit" && of.Which == "without a kit" {
		return ""
	}
	var parts []any
	for part := range strings.SplitSeq(where, "/") {
		if part == "*" {
			part = of.Which
		}
		parts = append(parts, part)
	}
	return s.path(c, parts...)
}

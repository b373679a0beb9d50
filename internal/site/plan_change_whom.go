package site

import (
	"fmt"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// concerns says whom the change concerns: recipients who get another number, whoever has kits
// of the plan, which stay as they are, and who signed for sheets that came up short or change.
func (s *Site) concerns(c *gin.Context, changed *postgres.PlanChanged, names changeNames) []concerned {
	var out []concerned
	open := func(area account.Area, parts ...any) string {
		if !s.may(c, area, account.Read) {
			return ""
		}
		return s.path(c, parts...)
	}
	for _, l := range changed.Told.Lines {
		line, known := names.lines[l.ID]
		if !known || l.From == l.To && l.Others+l.New == 0 {
			continue
		}
		what := fmt.Sprintf("%s instead of %s, %s.", countCases(l.To), thousands(int64(l.From)), strings.Join(line.SizeNames, " or "))
		if l.From == l.To {
			what = fmt.Sprintf("as many as before, %s, from other kits.", countCases(l.To))
		}
		out = append(out, concerned{open(account.Drive, "recipients", line.Recipient), line.RecipientName, what})
	}
	out = append(out, holders(staying(changed.Told.Stay, changed.Kits), open)...)
	for _, n := range slices.Sorted(slices.Values(slices.Concat(changed.Told.SheetsAnew, changed.Told.SheetsGone, changed.Told.SheetsStay, changed.Told.SheetsRegiven))) {
		sheet := changed.Sheets[n]
		switch {
		case sheet.State == drive.SheetOnTable:
			out = append(out, concerned{open(account.Cutting, "cutting", n), sheet.Helper, fmt.Sprintf("sheet %d is on the table, go on cutting it.", n)})
		case sheet.State == drive.SheetShort && sheet.Helper != "":
			out = append(out, concerned{open(account.Cutting, "cutting", n), sheet.Helper, fmt.Sprintf("sheet %d came up short, wait for its new print.", n)})
		}
	}
	return out
}

// holdersNamed is how many who have kits that stay are named; more are summed up.
const holdersNamed = 3

func holders(list []changedKits, open func(account.Area, ...any) string) []concerned {
	list = slices.DeleteFunc(list, func(k changedKits) bool { return k.Holder == 0 })
	if len(list) > holdersNamed {
		return []concerned{{Who: fmt.Sprintf("The %d who have kits of this plan", len(list)), What: "their kits stay as they are, nothing to do."}}
	}
	var out []concerned
	for _, k := range list {
		stay, are := "stays", "it is"
		if len(k.Kits) > 1 {
			stay, are = "stay", "they are"
		}
		what := fmt.Sprintf("%s %s as %s, nothing to do.", lowerFirst(kitsByName(k.Kits)), stay, are)
		out = append(out, concerned{open(account.Kits, "people", k.Holder), strings.TrimPrefix(k.Where, "With "), what})
	}
	return out
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

package workbook

import (
	"fmt"

	"boltward/internal/drive"
)

// checks holds the sheets against one another: each side of a check is added up from
// another list, which the program kept in another way.
func (b book) checks() []line {
	check := func(label string, kind columnKind, left, right formula) line {
		return line{label: label, figure: &left, other: &right, kind: kind}
	}
	kits := func(states ...drive.KitState) formula {
		var sums []formula
		for _, s := range states {
			sums = append(sums, formula{
				fmt.Sprintf(`SUMIF(%s,"%s",%s)`, b.over("Kits", "Where"), s, b.over("Kits", "Pillowcases")), b.tally.inKits[s],
			})
		}
		return plus(sums...)
	}
	cases := func(heading string) formula { return b.total("Pillowcases", heading) }
	var standing, allStates []formula
	for _, state := range drive.CaseStates() {
		if state.Alive() {
			standing = append(standing, cases(capital(string(state))))
		}
	}
	for _, c := range recipientColumns() {
		allStates = append(allStates, b.total(sheetRecipients, c.heading))
	}
	var lines []formula
	for _, heading := range []string{"Confirmed", "Delivered, not confirmed", "Good, packed or not", "To check or mend", "With volunteers", "Planned or cut"} {
		lines = append(lines, b.total("Asked", heading))
	}
	closing := fmt.Sprintf(`SUMIFS(%s,%s,">0")`, b.over("Pillowcases", "Closing"), b.over("Pillowcases", "Line"))
	change := b.total("Fabric", "Closing").minus(b.total("Fabric", "Opening"))
	fits := formula{fmt.Sprintf(`COUNTIF(%s,"%s")`, b.over("Fabric", "Account"), agrees), b.tally.lots}
	out := formula{fmt.Sprintf(`COUNTIF(%s,"out")`, b.over("Kits", "Where")), b.tally.kits[drive.KitOut]}
	return []line{
		check("Fabric: opening + in − out, and what lies there", areas, b.total("Fabric", "Closing"), b.total("Fabric", "On the shelf")),
		check("Fabric: by lot, and entry by entry", areas, change, b.total("Fabric entries", "Change on the shelf")),
		check("Fabric: lots whose account agrees, and all lots", count, fits, formula{"COUNT(" + b.over("Fabric", "Lot") + ")", b.tables["Fabric"].rows}),
		check("Pillowcases: opening + born − ended, and the states", count, cases("Closing"), plus(standing...)),
		check("Pillowcases: by line, and asked for", count, formula{closing, b.tally.onLines}, plus(lines...)),
		check("Pillowcases: by line, and by recipient", count, cases("Closing"), plus(allStates...)),
		check("Pillowcases: confirmed by line, and by state", count, cases("Confirmed"), b.inState(drive.CaseConfirmed)),
		check("Came in: by line, and by month", count, cases("Came in"), b.total(sheetMonths, "Came in")),
		check("Found good: by line, and at the checks", count, cases("Found good"), b.checkedAs(drive.CaseGood)),
		check("Sent: by line, and by delivery", count, cases("Sent"), b.total("Deliveries", "Sent")),
		check("Sent: by delivery, and by box", count, b.total("Deliveries", "Sent"), b.total("Boxes", "Sent")),
		check("Confirmed in the period: by line, and by month", count, cases("Were confirmed"), b.total(sheetMonths, "Confirmed")),
		check("Planned: by line, and in kits", count, cases("Planned"), kits(drive.KitPlanned, drive.KitOnTable)),
		check("Cut: by line, and in kits", count, cases("Cut"), kits(drive.KitCut, drive.KitReady, drive.KitFound)),
		check("Kits out: by kit, and by who has them", count, out, b.total("People", "Kits they have")),
		check("Hours: by person, and note by note", hours, b.total("People", "All hours"), b.total("Hours", "Given")),
	}
}

// inState is how many pillowcases stand in a state, by the sheet of states.
func (b book) inState(state drive.CaseState) formula {
	n := 0
	for _, r := range b.tally.recipients {
		n += r.counts[state]
	}
	return formula{fmt.Sprintf(`SUMIF(%s,"%s",%s)`, b.over("States", "State"), state, b.over("States", "Closing")), n}
}

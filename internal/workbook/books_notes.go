package workbook

import (
	"fmt"

	"github.com/xuri/excelize/v2"
)

// notes says how the figures come about.
func (b book) notes() error {
	stream, err := b.file.sheet(sheetNotes)
	if err != nil {
		return err
	}
	if err := stream.SetColWidth(1, 1, 24); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	if err := stream.SetColWidth(2, 2, 110); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	wrap, err := b.file.x.NewStyle(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	square, unit, yardage := string(b.units.yardage)+"²", string(b.units.unit), string(b.units.yardage)
	contacts := "How to reach donors and people is left out: whoever took these books may not read it."
	if b.books.Contacts {
		contacts = "How to reach donors and people stands in Gifts and People. Hand these books on only to those who may read that."
	}
	rows := [][2]string{
		{"Days", fmt.Sprintf("Both days of the period count, in the drive's time zone (%s). A day is the day something happened where the program asks for it, else the day it was noted.", b.books.Drive.Zone)},
		{"Fabric", "Counted by area in " + square + ", from the length and the usable width of each piece. For every lot, opening + measured + put back + recounted − squared off − cut for kits − offcuts − lost in the wash − given away − discarded = closing. " +
			"On the shelf is what is free and what is promised to an accepted plan, added up apart; Account says whether the two agree."},
		{"Fabric, running", fmt.Sprintf("The same area as a strip of the lot's usable width (of its widest whole piece), in %s; the width is in %s. A lot in several widths has no one length, so areas are what adds up.", yardage, unit)},
		{"Parting", "Parting a piece moves cloth within its lot and so appears only in Fabric entries. What is lost at the selvedges and ends when a lot is first measured never counts as measured."},
		{"Pillowcases", "A pillowcase stands in exactly one state. It is born by an accepted plan, by a kit of people's own fabric that is made, by being brought in or found again, and ends as not usable, lost, withdrawn uncut or not received. Between, it only moves: opening + born − ended = closing, for every line and size, and that is what stands in all its states."},
		{"Sent and confirmed", "Delivered is what left here; confirmed is what the recipient said arrived. Counts that differ stay open until somebody settles them. Deliveries and Boxes are those of which something was sent, or taken back from its way, in the period, with what was said of them until its last day: sent before + sent − confirmed − not received − sent back = open."},
		{"Taken back", "What was booked by mistake is taken back by a counter-entry; both stand in the lists of entries, the second below zero, with the entry it takes back. Hours, thanks and lots tagged by mistake are struck out where they were noted and do not appear."},
		{"Asked for", "What is asked for is what stood when these books were made; how far it has come is as at the end of the last day."},
		{"Laundry", "Batches that were put in in the period, as they stand when these books were made: what was put in by mistake is left out, and what went to another line since stands with that line."},
		{"Kits", "Each kit as it stood at the end of the last day; days late are counted to that day, or to the day on which these books were made where that is earlier. A kit of people's own fabric holds no cloth of the drive; its pillowcases are born when it is made, and stand as cut until it is handed out."},
		{"Pillowcases sewn", "Each counts once, for whoever sewed it, when it comes back: mended later or not."},
		{"Formulas", "Every total is a formula. Totals under a list follow its filter; those on Summary, Recipients and Months always cover the whole list. Every cell that people wrote is text."},
		{"Long texts", "A cell holds 32,767 characters. Where somebody wrote more, the cell says that it is cut; the same list as CSV holds all of it."},
		{"Addresses", contacts},
		{"Money and tax", "No money is kept, and no value is put on what was given. What a gift means for tax depends on local law: ask somebody licensed to say so."},
	}
	if err := stream.SetRow("A1", []any{excelize.Cell{StyleID: b.file.title, Value: "How these figures come about"}}); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	for i, row := range rows {
		if err := stream.SetRow(fmt.Sprintf("A%d", i+3), []any{excelize.Cell{StyleID: b.file.head, Value: row[0]}, excelize.Cell{StyleID: wrap, Value: row[1]}},
			excelize.RowOpts{Height: float64(16 * (1 + len(row[1])/115))}); err != nil {
			return fmt.Errorf("notes: %w", err)
		}
	}
	if err := stream.Flush(); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	return b.file.prints(sheetNotes, "B", len(rows)+2, "")
}

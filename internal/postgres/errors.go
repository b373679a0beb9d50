package postgres

import (
	"errors"

	"boltward/internal/apperr"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// broken says what a person reads when a named constraint refuses a write: the
// field it belongs to, or none for a conflict with what stands.
type broken struct {
	field string
	text  string
}

// constraints maps every constraint that people's input can break to its message.
var constraints = map[string]broken{
	"accounts_email_once":              {"email", "Somebody signs in with this address already."},
	"accounts_email_form":              {"email", "This is not an e-mail address, such as rosa@example.org."},
	"passes_place_said":                {"place", "Say where the tablet lies, in up to 40 letters."},
	"invites_name_short":               {"name", "Keep the name to 100 letters."},
	"accounts_name_said":               {"name", "Write the name people call you by, in up to 100 characters."},
	"drives_pkey":                      {"id", "Another drive has this address already. Choose another."},
	"drives_id_form":                   {"id", "Use small letters, digits and single dashes, 2 to 40 of them."},
	"drives_name_said":                 {"name", "Say what the drive is called, in up to 120 characters."},
	"drives_kit_cases_range":           {"kit_cases", "A kit holds 1 to 50 pillowcases."},
	"drives_spare_share_range":         {"spare_share", "Give a share from 0 to 50 percent."},
	"donors_name_said":                 {"name", "Say who gave it, in up to 120 characters."},
	"donors_name_once":                 {"name", "There is a donor of this name already. Add something that tells the two apart, such as a street."},
	"lot_rules_never_once":             {"other", "These two lots are kept apart already."},
	"lot_rules_always_once":            {"other", "This body is always sewn with another lot already. End that rule first."},
	"lot_rules_pinned_once":            {"recipient", "This lot is kept for somebody already. End that rule first."},
	"lot_rules_lot_fkey":               {"lot", "There is no such lot here."},
	"lot_rules_other_fkey":             {"other", "There is no such lot here."},
	"lot_rules_recipient_fkey":         {"recipient", "Choose a recipient from the list."},
	"thanks_once":                      {"", "Somebody was thanked for one of these gifts meanwhile. Open the page again and look at what is left."},
	"label_papers_name_once":           {"name", "There is a paper of this name already."},
	"people_name_said":                 {"name", "Say the name, in up to 120 characters."},
	"people_name_once":                 {"name", "There is somebody of this name already. Add something that tells the two apart, such as a street."},
	"people_kind_known":                {"kind", "Choose volunteer, school, chapter or sewing day."},
	"people_heads_range":               {"heads", "Give how many people sew in the group, 1 to 5000."},
	"people_pace_range":                {"pace", "Give pillowcases a week, 1 to 1000, or leave it empty."},
	"recipients_name_said":             {"name", "Say the name, in up to 120 characters."},
	"recipients_name_once":             {"name", "There is a recipient of this name already."},
	"recipients_kind_known":            {"kind", "Choose ward, hospice, shelter or other."},
	"sizes_name_said":                  {"name", "Give the size a name, in up to 80 characters."},
	"sizes_name_once":                  {"name", "There is a size of this name already."},
	"asked_recipient_fkey":             {"recipient", "Choose a recipient from the list."},
	"standing_asks_recipient_fkey":     {"recipient", "Choose a recipient from the list."},
	"asked_wanted_range":               {"wanted", "Ask for 1 to 100,000 pillowcases."},
	"asked_matter_known":               {"matter", "Choose how much it matters from the list."},
	"asked_weight_range":               {"weight", "Give a weight from 1 to 10,000."},
	"asked_kit_cases_range":            {"kit_cases", "A kit holds 1 to 50 pillowcases."},
	"asked_sizes_size_fkey":            {"sizes", "Choose sizes from the list."},
	"lots_tag_once":                    {"tag", "This tag hangs on another lot already. Scan or type the number on the tag in your hand."},
	"lots_donor_fkey":                  {"donor", "Choose a donor from the list, type a new name, or leave it unknown."},
	"lots_photo_fkey":                  {"photo", "This photo is not here any more. Take it again."},
	"lots_pieces_told_range":           {"pieces", "Say how many pieces, 1 to 500."},
	"lots_pieces_measured_range":       {"pieces", "Say how many pieces, 1 to 500."},
	"lots_fibre_known":                 {"fibre", "Choose the fibre from the list, or not sure."},
	"lots_weight_known":                {"weight", "Choose the kind of cloth from the list."},
	"lots_print_known":                 {"print", "Choose solid, tonal or feature print."},
	"lots_turn_known":                  {"turn", "Choose how the print lies."},
	"lots_border_known":                {"border", "Choose which selvedge carries the border."},
	"pieces_size_range":                {"length", "No cloth is that large: up to 10 m wide and 10 km long."},
	"pieces_balance":                   {"", "The piece would not add up any more; nothing was changed."},
	"pieces_nothing_below_zero":        {"", "There is not that much cloth left on this piece any more. Somebody was first; look at the lot again."},
	"pieces_free_is_a_rectangle":       {"", "What is free of a piece is a length at its width; nothing was changed."},
	"kits_holder_fkey":                 {"person", "Choose who takes it from the list."},
	"kit_entries_from_where_it_is":     {"", "The kit is not where this page says any more. Somebody was first; look again."},
	"case_balances_nothing_below_zero": {"", "There are not that many pillowcases in this state any more. Somebody was first; look again."},
	"case_entries_undone_once":         {"", "This step was undone already."},
	"fabric_entries_undone_once":       {"", "This was undone already."},
	"case_entries_asked_fkey":          {"asked", "Choose a line from what is asked for."},
	"case_entries_size_fkey":           {"size", "Choose a size from the list."},
	"case_balances_size_fkey":          {"size", "Choose a size from the list."},
	"case_entries_person_fkey":         {"person", "Choose a person from the list."},
	"once_key_length":                  {"", "The form did not arrive whole. Open the page again and send it once more."},
	"box_lines_confirmed":              {"confirmed", "No more can be confirmed than was sent."},
	"supplies_name_once":               {"name", "There is a supply of this name already. Change its count instead."},
	"uploads_sheet_length":             {"sheet", "The name of the sheet is longer than 200 characters. Shorten it in the file."},
	"stocktakes_one_open":              {"", "A stocktake is open already. Go on with that one, or give it up first."},
	"boxes_recipient_fkey":             {"recipient", "Choose a recipient from the list."},
}

// person turns a broken constraint into the message on its field, and a row
// that is not there into not found; other errors pass as they are.
func person(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return apperr.NotFound("There is no such thing here.")
	}
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		return err
	}
	b, known := constraints[pg.ConstraintName]
	switch {
	case !known:
		return err
	case b.field == "":
		return apperr.Conflict("%s", b.text)
	}
	return apperr.Invalid(b.field, "%s", b.text)
}

// stale refuses an edit of what somebody else has changed since the page was opened.
func stale(what string) error {
	return apperr.Conflict("%s was changed by somebody else while this page was open. Look at what stands now, then save again.", what)
}

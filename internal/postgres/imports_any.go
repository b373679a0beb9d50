package postgres

import (
	"context"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// Preview says what Import would do, and changes nothing.
func (s *Store) Preview(ctx context.Context, driveID string, b drive.Bringing, takeGood bool) (drive.ImportReport, error) {
	switch b.Kind {
	case drive.BringPeople:
		return s.PreviewPeople(ctx, driveID, b.People, takeGood)
	case drive.BringAsked:
		return s.PreviewAsked(ctx, driveID, b.Asked, takeGood)
	case drive.BringDonors:
		return s.PreviewDonors(ctx, driveID, b.Donors, takeGood)
	}
	return s.PreviewFabric(ctx, driveID, b.Fabric, takeGood)
}

// Import takes a list of any kind as one act: all of it, or with takeGood the
// rows that are not refused, or nothing.
func (s *Store) Import(ctx context.Context, act drive.Act, b drive.Bringing, takeGood bool) (drive.ImportReport, error) {
	return s.ImportTold(ctx, act, b, takeGood, nil)
}

// ImportTold is Import, and tells how many rows are written of how many while it
// goes on. Nothing is kept before it returns; when ctx ends, nothing is taken.
func (s *Store) ImportTold(ctx context.Context, act drive.Act, b drive.Bringing, takeGood bool, told func(done, total int)) (drive.ImportReport, error) {
	return s.importAny(ctx, act, b, taking{good: takeGood, told: told})
}

// ImportUpload is ImportTold for a spreadsheet that is being taken in. That it is
// taken is kept together with the rows; where somebody has stopped it meanwhile,
// however late, it is a conflict and nothing is taken.
func (s *Store) ImportUpload(ctx context.Context, act drive.Act, number int64, b drive.Bringing, takeGood bool, told func(done, total int)) (drive.ImportReport, error) {
	return s.importAny(ctx, act, b, taking{good: takeGood, told: told, file: number})
}

func (s *Store) importAny(ctx context.Context, act drive.Act, b drive.Bringing, how taking) (drive.ImportReport, error) {
	switch b.Kind {
	case drive.BringPeople:
		return s.importPeople(ctx, act, b.People, how)
	case drive.BringAsked:
		return s.importAsked(ctx, act, b.Asked, how)
	case drive.BringDonors:
		return s.importDonors(ctx, act, b.Donors, how)
	}
	return s.importFabric(ctx, act, b.Fabric, how)
}

// BorderDepth is how deep a border strip is parted where nobody says: as deep as
// the longest body of the drive's sizes.
func (s *Store) BorderDepth(ctx context.Context, driveID string) (length.Length, error) {
	sizes, err := s.Sizes(ctx, driveID)
	if err != nil {
		return 0, err
	}
	return drive.BorderDepth(sizes), nil
}

// ListTerms are what reading a list depends on besides the file, as far as the
// drive knows it.
type ListTerms struct {
	Drive       drive.Drive
	BorderDepth length.Length
	Means       map[string]string // what headings mean, as somebody said
}

// ListTerms gives them for lists of this kind.
func (s *Store) ListTerms(ctx context.Context, driveID string, kind drive.BringKind) (ListTerms, error) {
	d, err := s.Drive(ctx, driveID)
	if err != nil {
		return ListTerms{}, err
	}
	t := ListTerms{Drive: d}
	if kind == drive.BringFabric {
		if t.BorderDepth, err = s.BorderDepth(ctx, driveID); err != nil {
			return ListTerms{}, err
		}
	}
	t.Means, err = s.HeadingChoices(ctx, driveID, kind)
	return t, err
}

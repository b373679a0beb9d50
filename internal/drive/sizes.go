package drive

import (
	"fmt"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/sizing"
)

// Size is one size of pillowcase that the drive makes, under the name its people use.
type Size struct {
	Number    int64       `db:"number"`
	Name      string      `db:"name"`
	Spec      sizing.Spec `db:"spec"`
	Retired   bool        `db:"retired"` // no longer offered; what was made in it stays
	Used      bool        `db:"used"`    // pillowcases or kits stand in this size
	CreatedAt time.Time   `db:"created_at"`
	Version   int         `db:"version"`
}

// Tidy gives the size without stray spaces in its name.
func (s Size) Tidy() Size {
	s.Name = strings.Join(strings.Fields(s.Name), " ")
	return s
}

// Check says what is wrong with a size before it is kept: of its name by the
// field name, of its spec by the fields of package sizing.
func (s Size) Check() error {
	var bad []apperr.Field
	if e := apperr.As(s.CheckName()); e != nil {
		bad = e.Fields
	}
	if err := s.Spec.Check(); err != nil {
		e := apperr.As(err)
		if e == nil || e.Kind != apperr.KindInvalid {
			return err
		}
		bad = append(bad, e.Fields...)
	}
	return apperr.InvalidFields(bad)
}

// CheckName says what is wrong with the name alone.
func (s Size) CheckName() error {
	if s.Name == "" || utf8.RuneCountInString(s.Name) > 80 {
		return apperr.Invalid("name", "Give the size a name, in up to 80 characters.")
	}
	return nil
}

// MayBecome refuses to change how a size is made once pillowcases stand in it:
// what was cut by the old one would no longer fit what is sewn by the new one.
// Its name may always change.
func (s Size) MayBecome(next Size) error {
	if s.Used && !reflect.DeepEqual(s.Spec, next.Spec) {
		return apperr.Invalid("width", "Pillowcases have been planned or made in this size, so its measures stay. Add another size for the new ones and retire this one.")
	}
	return nil
}

// SizesInUse gives the names of the sizes that are offered.
func SizesInUse(sizes []Size) []string {
	var names []string
	for _, z := range sizes {
		if !z.Retired {
			names = append(names, z.Name)
		}
	}
	return names
}

// CutSizes gives how the sizes that are offered are cut, each under its name.
func CutSizes(sizes []Size) ([]PlanSize, error) {
	var cut []PlanSize
	for _, z := range sizes {
		if z.Retired {
			continue
		}
		panels, _, err := sizing.Cuts(z.Spec)
		if err != nil {
			return nil, fmt.Errorf("cut sizes of %s: %w", z.Name, err)
		}
		cut = append(cut, PlanSize{ID: z.Name, Panels: panels})
	}
	return cut, nil
}

package drive

import (
	"strings"

	"boltward/internal/apperr"
)

// ReadKitCodes reads kits that were scanned or typed one after another, on lines or
// in a row: the address of a label, or a number as it stands on one. base is where
// this installation's addresses begin. What is no kit of this drive is an invalid
// "kit" that names each.
func ReadKitCodes(typed, driveID, base string) ([]KitRef, error) {
	var refs []KitRef
	var bad []string
	for _, word := range strings.FieldsFunc(typed, func(r rune) bool { return strings.ContainsRune(",; \n\r\t", r) }) {
		if strings.EqualFold(word, "kit") { // "kit 107", as a person writes it
			continue
		}
		ref, err := readKitCode(word, driveID, base)
		if err != nil {
			bad = append(bad, apperr.Fields(err)["kit"])
			continue
		}
		refs = append(refs, ref)
	}
	if len(bad) > 0 {
		return nil, apperr.Invalid("kit", "%s", strings.Join(bad, " "))
	}
	return refs, nil
}

func readKitCode(word, driveID, base string) (KitRef, error) {
	code, err := ReadCode(word)
	switch {
	case err != nil:
		return KitRef{}, apperr.Invalid("kit", "%s", apperr.Fields(err)["code"])
	case code.Base != "" && code.Base != strings.TrimSuffix(base, "/"):
		return KitRef{}, apperr.Invalid("kit", "%s is a label of another installation.", shortened(word))
	case code.Drive != "" && code.Drive != driveID:
		return KitRef{}, apperr.Invalid("kit", "%s is a label of another drive.", shortened(word))
	case code.Kind != CodeKit && code.Kind != CodeBare:
		return KitRef{}, apperr.Invalid("kit", "%s is the label of a %s, not of a kit.", shortened(word), code.Kind)
	}
	ref, err := ParseKitName(code.Number)
	if err != nil {
		return ref, apperr.Invalid("kit", "%q is no kit's number: it looks like 107, or 107-2 for what parted from it.", word)
	}
	return ref, nil
}

package words

import "fmt"

// lessonsEnglish tells kindly what came up, and what helps. Common practice, no source.
func lessonsEnglish(list []LessonFacts) []string {
	found := map[string]string{
		"size": "not in their size", "seams": "with a seam open", "edges": "with a raw edge showing", "threads": "with loose threads",
		"cuff": "with the cuff twisted", "cloth": "with a stain or a hole", "worn": "of cloth that is too worn", "pins": "with a pin or needle still inside",
	}
	helps := map[string]string{
		"size":    "Measure the first one, laid flat, before you sew the others.",
		"seams":   "Sew back and forth at both ends of every seam, then pull on it.",
		"edges":   "Before the second seam, trim the first one evenly and fold it right into the edge.",
		"threads": "Cut the threads close, inside too.",
		"cuff":    "Before you roll, see that the cuff lies flat and both its edges meet.",
		"cloth":   "Hold the panel up to the light before you sew, and ask for another.",
		"worn":    "If cloth feels thin, keep it back and ask for other cloth.",
		"pins":    "Count your pins before you start and when you stop.",
	}
	lines := make([]string, len(list))
	for i, l := range list {
		what, known := found[l.Kind]
		if !known {
			what = "with this to put right: " + l.Fault
		}
		lines[i] = fmt.Sprintf("%d of %d in the last 30 days came back %s.", l.N, l.Of, what)
		if tell := l.Tell; tell != "" {
			lines[i] += " " + tell
		} else if helps[l.Kind] != "" {
			lines[i] += " " + helps[l.Kind]
		}
	}
	return lines
}

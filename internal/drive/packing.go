package drive

import (
	"slices"
	"strings"

	"boltward/internal/apperr"
)

// RuleLaundered is the rule that a drive which launders sets itself.
const RuleLaundered = "laundered here"

// RuleKept is one rule of the recipient as it was gone through when a box was closed:
// kept, or why not.
type RuleKept struct {
	Rule string `db:"rule"`
	Kept bool   `db:"kept"`
	Why  string `db:"why"`
}

// PackRules is what is gone through before a box for a recipient is closed: its rules
// in its own words, and the drive's own where it launders.
func PackRules(rules []string, launders bool) []string {
	list := slices.Clone(rules)
	if launders {
		list = append(list, RuleLaundered)
	}
	return list
}

// GoThrough holds what was said of the rules against what they are now: each is
// kept, or somebody says why the box goes as it is. unlaundered is how many
// pillowcases of the box are in no finished batch. It refuses by the field rules.
func GoThrough(rules []string, said []RuleKept, unlaundered int) ([]RuleKept, error) {
	list := make([]RuleKept, 0, len(rules))
	var open []string
	for _, rule := range rules {
		kept := RuleKept{Rule: rule}
		for _, s := range said {
			if s.Rule == rule {
				kept.Kept, kept.Why = s.Kept, strings.TrimSpace(s.Why)
			}
		}
		if rule == RuleLaundered && kept.Kept && unlaundered > 0 {
			return nil, apperr.Invalid("rules", "%s of this box lie in no batch that is done. Launder them first, or untick “%s” and say why they go as they are.", pillowcases(unlaundered), RuleLaundered)
		}
		if kept.Kept {
			kept.Why = ""
		} else if kept.Why == "" {
			open = append(open, "“"+rule+"”")
		}
		list = append(list, kept)
	}
	if len(open) > 0 {
		return nil, apperr.Invalid("rules", "Before the box is closed: tick %s once it is so, or write why the box goes without.", strings.Join(open, ", "))
	}
	var bad []apperr.Field
	for _, k := range list {
		if bad == nil {
			bad = tooLong("why", k.Why, 500)
		}
	}
	return list, apperr.InvalidFields(bad)
}

// Unlaundered is how many of what goes into a box are in no finished batch.
func Unlaundered(lines []BoxLine, here []Washable) int {
	n := 0
	for _, l := range lines {
		clean := 0
		for _, w := range here {
			if w.Asked == l.Asked && w.Size == l.Size && w.Kit == l.Kit && w.Part == l.Part {
				clean = w.Clean()
			}
		}
		n += max(l.N-clean, 0)
	}
	return n
}

// BagsSingly says whether rules in a recipient's own words ask for a bag to each.
func BagsSingly(rules []string) bool {
	return slices.ContainsFunc(rules, func(rule string) bool {
		rule = strings.ToLower(rule)
		return strings.Contains(rule, "bag") && (strings.Contains(rule, "singl") || strings.Contains(rule, "individual") || strings.Contains(rule, "each"))
	})
}

// Package truth holds nothing but tests. They hold the planner against programs that know
// nothing of how it works, on drives drawn at random: everything tried by brute force, a general
// solver over all patterns, both checkers, and the planner itself in other moods.
//
// BOLTWARD_LONG=1 draws thousands; -rapid.checks any other number.
package truth

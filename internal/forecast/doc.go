// Package forecast says when what is asked for will be done: "likely by" a day with a range that
// holds it four times of five, or "too early to say" and why. It is pure: facts in, figures out,
// the same figures for the same facts. Days are whole numbers counted from any one day; amounts
// are pillowcases.
//
// # Method
//
// The rest of the drive is played through some hundred times, each time a little
// otherwise, and the days on which a line is done are sorted: the middle one is "likely by", a
// tenth of them lies before the range and a tenth after it. A sum of averages would do for one
// figure, but not for a range: what decides is the slowest kit of a few, and who brings
// kits back does not do so evenly. Simulation from measured times is the usual answer to that; see
// Law, Simulation Modeling and Analysis, ch. 6 (input distributions), from memory.
//
// What is measured, each with its uncertainty, which each run draws anew:
//
//   - Holding times, from hand-out to return. Their cube roots are taken as normal, which makes the times
//     gamma to a hair (Wilson and Hilferty 1931), as sums of so many evenings are; each person has a pace
//     of their own (a random effect, drawn towards everybody's where little is known of somebody). Kits that are still out count by how long they have been: leaving them out would
//     make everybody look fast. Some never come back; a kit that is long out is one of those with
//     growing odds. All of it is fitted together by expectation and maximisation (Dempster, Laird
//     and Rubin 1977; with a share that never ends: Boag 1949), see fit.
//   - How often each person takes kits, and how many pillowcases at once, in the same way. Who has
//     not come for long has perhaps stopped. Who comes new is counted a week and smoothed
//     (Smooth), and each run draws the rate from what that count can tell (Jeffreys' gamma, kept within
//     the exact limits of Poisson).
//   - How long pillowcases wait to be checked and to be mended, how often cloth is cut and plans are
//     accepted, in the same way; what share is to mend or not usable (a beta).
//
// Two kinds of unevenness widen the range beyond that, because a plain Poisson interval would be
// too narrow. Kits come back in clumps, on desk days and after holidays: the errors of the
// smoothed weekly count of returns give their dispersion (Basis.Dispersion: 1 would be Poisson),
// and each week of a run goes as much faster or slower than the mean as that says (a gamma factor, so
// counts are negative binomial; McCullagh and Nelder 1989, ch. 6). And the weeks to come are not
// quite like those behind: the pace of each whole run is drawn around the measured one (see drift).
//
// Lines are served in the order of their days. What gets lost or cannot be used is planned and
// cut once more. What no plan can make for want of cloth makes a line too early to say.
//
// What is taken for granted where nothing is measured yet stands in usual, with its weight: it
// fades after a few kits. drift was set on simulated drives of seeds other than those of the
// tests; package simulated holds those drives, `go run ./internal/forecast/tables` prints how often
// the true day fell into the range. Hardest are drives whose people stop: that fewer will come can be
// seen only once they have not come.
package forecast

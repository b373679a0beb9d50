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
//   - Turns (turns.go, folk.go): the days from when somebody took or last brought something to when they next bring some.
//     Their cube roots are taken as normal, which makes the times gamma to a hair (Wilson and Hilferty 1931), as sums of so many
//     evenings are. Each person has a pace of their own, drawn towards everybody's where little is known of
//     somebody (empirical Bayes: Efron and Morris 1975, from memory), and reckoned with as a distribution, not as a
//     figure. On each day somebody may drop out and never bring what they have; the longer nothing is heard
//     beyond somebody's own usual time, the likelier that is (Schmittlein, Morrison and Colombo 1987, from
//     memory). Turns that go on count by how long they have: leaving them out would
//     make everybody look fast. All of it is fitted together by expectation and maximisation (Dempster, Laird
//     and Rubin 1977). Who has several times what most people have is a group, and counts as so many people.
//   - What somebody brings at once, up to how many they hold, how often they take more before they have brought
//     everything, and how long after: as each did before, their own rates drawn towards everybody's (beta and gamma
//     shrinkage). Who has not come for long although something was ready has perhaps stopped (a share that never ends:
//     Boag 1949); people stop at a rate drawn from what that tells.
//   - What is out is booked as lost by how long it has been out, and planned and cut once more, whether or not
//     somebody still sews it; what comes back then after all counts too (losses), and who had everything booked may bring it still.
//   - Who comes new: a Poisson process whose rate falls off (coming).
//   - How long pillowcases wait to be checked and to be mended, how often cloth is cut while there is some to cut, how long what
//     is missing waits for a plan (waits.go); what share is to mend or not usable (a beta).
//
// Kits come back in clumps, on desk days and after holidays, so a plain Poisson interval would be too narrow: the errors of the
// smoothed weekly count of returns give their dispersion (Basis.Dispersion: 1 would be Poisson),
// and each week of a run goes as much faster or slower than the mean as that says (a gamma factor, so
// counts are negative binomial; McCullagh and Nelder 1989, ch. 6).
//
// Lines are served in the order of their days. What no plan can make for want of cloth makes a line too early to say.
//
// What is taken for granted where nothing is measured yet stands in usual, usualFolk and their like, with its weight: it
// fades after a few kits. It has no source: it was set on simulated drives of seeds 1001 to 1040, of the same characters as
// the first table below, which therefore flatters it.
//
// # How well it does
//
// Package simulated holds drives of ten characters, and `go run ./internal/forecast/tables -again 60` prints for each how
// often the true day fell into the range, the range's width in days and the continuous ranked probability score (CRPS, in
// days, the lower the better), beside who knows the character of the drive with all its figures and uses the books nearly
// as well as can be (Drive.Oracle). Seeds 1 to 50 of each, 500 drives; a share of 50 drives has a standard deviation of 6
// points, that of all one of 2:
//
//	                      inside  width  CRPS    who knows the character
//	steady                  76 %     65    13       76 %     47    10
//	clumpy                  88 %     70    14       88 %     55    11
//	slow start              78 %     64    15       68 %     52    13
//	school holidays         90 %     69    14       90 %     52     8
//	one big group           82 %     68    13       78 %     52    10
//	many to mend            80 %     69    14       64 %     54    14
//	people who stop         50 %     67    38       76 %    113    28
//	slow cutting            82 %     75    15       76 %     58    14
//	few people              88 %     65    13       84 %     54    13
//	busy and idle weeks     88 %     61    11       88 %     52     8
//	all                     80 %     67    16       79 %     59    13
//
// Hardest are drives whose people stop: that fewer will come can be seen only once they have not come, and such a drive
// looks like any other in its first weeks. A range wide enough for such drives would be far too wide for all others.
//
// What is usual was never set on the drives of a second set (simulated.Strangers), which differ in what all those have in common:
//
//	                      inside  width  CRPS    who knows the character
//	kits of six             78 %     65    14       84 %     46    10
//	seldom a plan           80 %     63    14       78 %     52    12
//	soon booked lost        70 %     53    13       78 %     35     8
//	fewer evenings          78 %     66    14       72 %     45    12
//	all four                40 %     94    30       78 %     40    11
//	all                     70 %     68    17       78 %     43    10
//
// That what is booked as lost does not end a turn (worker.keeps) was found by the last of them, where the true day still lies
// before the range three times of five.
package forecast

// Package planning turns fabric on the shelf and pillowcases asked for into a plan: which
// panel is cut from which piece, and which panels go home together in which kit.
//
// What is best, in this order: most weight made; least fabric area used; fewest pieces
// opened; fewest bundles; the longest remnants.
//
// # Model
//
// A pattern of a piece is a vector of panel counts that three parting stages of guillotine
// cuts can take from it (package cutting). Over all patterns p of each piece f,
//
//	maximise   Σ weight_q · y[q,s,b]
//	patterns   Σ_p x[f,p] ≤ pieces_f
//	supply     Σ count(p,k) · x[f,p] + given ≥ use      every group and kind of panel k
//	trims      Σ y[q,s,b] = Σ_a z[b,k,a]                every body group b and kind k that trims it
//	demand     Σ_s,b y[q,s,b] ≤ wanted_q                every quota
//	x, y, z whole
//
// where y counts pillowcases of quota q made by case s with bodies from group b, and z the
// trims of kind k for bodies of b taken from group a, whichever quota they are for. Pieces of
// one group whose length and width differ by less than any panel could use share a row.
//
// The relaxation is solved by column generation: prices of panels come from a linear
// programme over the patterns known so far (package lp), one guillotine programme a group
// then finds the best pattern of every piece of that group at once. Bounds are proven from
// prices alone, in whole numbers (prices.go).
//
// # Search
//
// Up to mostSingle different pieces, mostLonely where groups have few, two lanes work side by side,
// each with a model of its own, and meet after counted shares of work (lanes.go), so that one core
// gives the same plan as two.
// The first hunts: it takes up a few related pieces, keeps the rest as it is cut, and dives
// again in a small programme (hunt.go, dive.go). The second parts all plans by halves and proves
// the bound (branch.go): by totals of quotas, panels used, and sums of these (sums.go). The
// quantity to part by is the one whose halves lose most; each is tried by a few pivots until its
// history tells (choose.go, history.go; Achterberg, Koch and Martin, "Branching rules revisited",
// 2005). Where all quantities are whole and yet cannot be cut, exact counts say so (cuttable.go); many
// panels that together leave little of their pieces are judged by that little (cutting/scant.go).
// Of a drive at a table the first lane proves too once hunting has stood still: each lane has a
// tree with a programme of its own, and they deal out the nodes whenever they meet (share_nodes.go).
// Besides, the first parts the plans that known patterns alone make, those of both lanes and of the
// proving trees, by a tree that prices nothing: a restricted master (known_tree.go). It finds plans
// that no few pieces lead to, and waits for more patterns where the known ones hold nothing better.
// Where weights are steep, the heaviest pillowcases are planned first, by a search of their own
// (tiers.go). Beyond that, groups share rows and the whole plan comes from sharing out patterns
// (big.go), and of bolts from a dive that settles most of each at once (dive_long.go); then two lanes mend it, and where they meet what one has mended is done again on the
// plan of the other (turns.go, mend.go, mend_lanes.go). Up to mostParted, the second also parts
// plans by halves to lower the bound (big_tree.go).
//
// # Kits
//
// A kit takes a bundle from every piece and role it has panels of. What is cut and sewn being
// settled, bundles are few where stacks of like panels come out even with kits: kits are
// filled with that in mind (fill.go), then panels, sets and whole pillowcases change places
// (swaps.go) until a proven least is met (floor.go) or a fixed number of tries is spent. At last
// whole pillowcases change places between kits of one quota and size where that takes no more
// bundles and a kit then holds a print less often (spread.go).
//
// Guaranteed: kits are the fewest their size allows and differ by one pillowcase at most; the
// bundles are never more than filling alone gave, and Summary.BundlesLeast is proven, so that
// where both meet none fewer exist for these panels in kits of these sizes. Not guaranteed: that
// they meet, nor that another cutting of the same worth and cloth would not take fewer bundles,
// for cutting is settled first. Measured: on drawn problems small enough to try every filling
// the search misses the fewest in at most 2 of 100 (kits_test.go); on drives of 10 to 300
// fabrics of the bundles table (make bench) it stayed within 8 in 100 of the proven least, mostly
// within 2; drives of many short lines in small kits lie further above it, one by 19 in 100, of
// which it is not known whether the search or the proof falls short.
//
// Lengths are exact decimals in the problem's unit, held as whole numbers of its finest
// decimal; no float ever holds one. The same problem gives the same plan on any machine
// unless time or a person stops the search.
//
// References: Gilmore and Gomory, "A linear programming approach to the cutting-stock
// problem" (1961); Lübbecke and Desrosiers, "Selected topics in column generation" (2005);
// Sadykov, Vanderbeck and others, "Primal heuristics for branch and price" (2019) for
// diving with residual problems.
package planning

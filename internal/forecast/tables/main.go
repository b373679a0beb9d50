// Command tables prints how often the true day fell into the range that package forecast gave, on
// simulated drives of every character, with how wide the range was, how far ahead the true day lay, and how
// far "likely by" was off it. The same seeds give the same table.
//
//	go run ./internal/forecast/tables                     50 drives of each character
//	go run ./internal/forecast/tables -each 20 -seed 1001 others
//	go run ./internal/forecast/tables -each 10 -again 40  with how wide the range would have to be for who knew everything
package main

import (
	"flag"
	"fmt"
	"os"
	"sync"

	"boltward/internal/forecast/simulated"
)

func main() {
	each := flag.Int("each", 50, "drives of each character, `N`")
	seed := flag.Uint64("seed", 1, "the first of the seeds, `N`; each character takes the same ones")
	again := flag.Int("again", 0, "play each drive on `N` times from the day of its forecast, to see how wide a range has to be")
	flag.Parse()
	if err := table(*each, *seed, *again); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func table(each int, seed uint64, again int) error {
	characters := simulated.Characters()
	scores := make([]simulated.Score, len(characters))
	var wg sync.WaitGroup
	for i, c := range characters {
		wg.Go(func() {
			for k := range each {
				scores[i] = scores[i].Plus(simulated.Judge(c, seed+uint64(k), again))
			}
		})
	}
	wg.Wait()
	var all simulated.Score
	if _, err := fmt.Printf("Simulated drives, seeds %d to %d for each character; range meant to hold 80 %%.\n%-20s %6s %6s %6s %7s %7s %7s %9s %9s %9s %9s\n",
		seed, seed+uint64(each)-1, "character", "drives", "early", "said", "before", "inside", "after", "width d", "needed d", "ahead d", "off d"); err != nil {
		return err
	}
	for i, c := range characters {
		all = all.Plus(scores[i])
		if err := line(c.Name, scores[i]); err != nil {
			return err
		}
	}
	return line("all", all)
}

func line(name string, s simulated.Score) error {
	needed := "-"
	if s.Again > 0 {
		needed = fmt.Sprintf("%.1f", s.Needed/float64(s.Again))
	}
	_, err := fmt.Printf("%-20s %6d %6d %6d %6.0f%% %6.0f%% %6.0f%% %9.1f %9s %9.1f %9.1f\n", name, s.Drives, s.TooEarly, s.Said,
		100*float64(s.Before)/float64(max(1, s.Said)), s.Share(), 100*float64(s.After)/float64(max(1, s.Said)), s.Mean(s.Width), needed, s.Mean(s.Ahead), s.Mean(s.Off))
	return err
}

// Command tables prints how often the true day fell into the range that package forecast gave, on
// simulated drives of every character, with how wide the range was, how far ahead the true day lay, how
// far "likely by" was off it, and the scores that tell methods apart. The same seeds give the same table.
//
//	go run ./internal/forecast/tables                       50 drives of each character
//	go run ./internal/forecast/tables -each 20 -seed 1001   others
//	go run ./internal/forecast/tables -each 20 -again 100   beside who knows the character, and who knows all
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"sync"

	"boltward/internal/forecast/simulated"
)

func main() {
	each := flag.Int("each", 50, "drives of each character, `N`")
	seed := flag.Uint64("seed", 1, "the first of the seeds, `N`; each character takes the same ones")
	again := flag.Int("again", 0, "play each drive on `N` times from the day of its forecast, as who knows more would foretell it")
	flag.Parse()
	if err := tables(os.Stdout, *each, *seed, *again); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func tables(w io.Writer, each int, seed uint64, again int) error {
	if _, err := fmt.Fprintf(w, "Simulated drives, seeds %d to %d for each character; range meant to hold 80 %%.\n", seed, seed+uint64(each)-1); err != nil {
		return err
	}
	if err := set(w, "", simulated.Characters(), each, seed, again); err != nil {
		return err
	}
	return set(w, ", of drives that nothing was set on", simulated.Strangers(), each, seed, again)
}

// set prints the tables of one set of characters.
func set(w io.Writer, of string, characters []simulated.Character, each int, seed uint64, again int) error {
	verdicts := judged(characters, each, seed, again)
	if err := table(w, "The forecast"+of, characters, verdicts, func(v simulated.Verdict) simulated.Score { return v.Forecast }); err != nil || again == 0 {
		return err
	}
	if err := table(w, "Who knows the character, and the books"+of, characters, verdicts, func(v simulated.Verdict) simulated.Score { return v.Oracle }); err != nil {
		return err
	}
	return table(w, "Who knows the character, and all that the books do not show"+of, characters, verdicts, func(v simulated.Verdict) simulated.Score { return v.Hidden })
}

// judged plays everything, as many drives at once as there are processors.
func judged(characters []simulated.Character, each int, seed uint64, again int) []simulated.Verdict {
	single := make([]simulated.Verdict, len(characters)*each)
	turns := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for i := range single {
		turns <- struct{}{}
		wg.Go(func() {
			single[i] = simulated.Judge(characters[i/each], seed+uint64(i%each), again)
			<-turns
		})
	}
	wg.Wait()
	sums := make([]simulated.Verdict, len(characters))
	for i, v := range single {
		sums[i/each] = sums[i/each].Plus(v)
	}
	return sums
}

func table(w io.Writer, title string, characters []simulated.Character, verdicts []simulated.Verdict, of func(simulated.Verdict) simulated.Score) error {
	if _, err := fmt.Fprintf(w, "\n%s:\n%-20s %6s %5s %5s %7s %7s %6s %8s %8s %6s %6s %20s %9s  %s\n", title,
		"character", "drives", "early", "said", "before", "inside", "after", "width d", "ahead d", "off d", "CRPS d", "pinball 10/50/90 d", "interval d", "tenths"); err != nil {
		return err
	}
	var all simulated.Score
	for i, c := range characters {
		s := of(verdicts[i])
		all = all.Plus(s)
		if err := line(w, c.Name, s); err != nil {
			return err
		}
	}
	return line(w, "all", all)
}

func line(w io.Writer, name string, s simulated.Score) error {
	said := float64(max(1, s.Said))
	pinball := fmt.Sprintf("%.1f %.1f %.1f", s.Each(s.Pinball[0]), s.Each(s.Pinball[1]), s.Each(s.Pinball[2]))
	_, err := fmt.Fprintf(w, "%-20s %6d %5d %5d %6.0f%% %6.0f%% %5.0f%% %8.1f %8.1f %6.1f %6.1f %20s %9.1f  %s\n", name, s.Drives, s.TooEarly, s.Said,
		100*float64(s.Before)/said, s.Share(), 100*float64(s.After)/said, s.Mean(s.Width), s.Mean(s.Ahead), s.Mean(s.Off),
		s.Each(s.CRPS), pinball, s.Each(s.Interval), strings.Trim(fmt.Sprint(s.PIT), "[]"))
	return err
}

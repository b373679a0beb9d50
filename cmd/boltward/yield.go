package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/planning"
)

func yieldCommand() command {
	return command{
		name:    "yield",
		summary: "what a lot of fabric would make, alone and with what is on the shelf",
		example: `boltward yield problem.json --size 54x42 --group solid-navy --plan plan.json
boltward yield problem.json --size 90x42 --group boats --roles body --turn along
boltward yield --drive spring --lot 12
boltward yield --drive spring --size 60x42 --print solid --colours navy --washed --json`,
		more: `--size is length x width in the problem's unit. A group that the problem has brings its own roles and turn.
--json: {"alone": [{"case", "role", "panels"}], "completes", "weight", "quotas": [{"id", "from", "to"}]}.
--drive holds a lot of a drive, or cloth that is described, against its shelf. Its --json: {"alone": [{"size", "cases", "bodies"}],
"completes", "lines": [{"id", "from", "to"}], "waits"}.
--json-progress writes one object a line to standard error, as plan does (boltward help plan).`,
		run: runYield,
	}
}

func runYield(ctx context.Context, env Env, args []string) error {
	fs := newFlags("yield")
	size := fs.String("size", "", "`LENGTHxWIDTH` of the usable cloth, in the problem's unit")
	group := fs.String("group", "", "`GROUP` of fabrics it looks like")
	roles := fs.String("roles", "body,cuff,accent", "`ROLES` it may serve as, where the group is new")
	turn := fs.String("turn", string(planning.Either), "`TURN` across, along or either, where the group is new")
	of := driveYield{}
	fs.StringVar(&of.drive, "drive", "", "the drive (`ID`) against whose shelf it is held")
	fs.Int64Var(&of.lot, "lot", 0, "a lot (`N`) of the drive")
	fs.StringVar(&of.fibre, "fibre", drive.Fibres()[0], "`FIBRE` of cloth for a drive")
	fs.StringVar(&of.kind, "kind", drive.Weights()[0], "`KIND` of cloth for a drive: quilting, flannel, sheeting or heavy")
	fs.StringVar(&of.print, "print", drive.PrintSolid, "`PRINT` of cloth for a drive: solid, tonal or feature")
	fs.StringVar(&of.colours, "colours", "", "`COLOURS` of cloth for a drive, with commas")
	fs.StringVar(&of.themes, "themes", "", "`THEMES` of cloth for a drive, with commas")
	fs.BoolVar(&of.washed, "washed", false, "cloth for a drive is washed")
	fs.BoolVar(&of.trim, "trim", false, "a feature print for a drive may be cuff or accent too")
	name := fs.String("plan", "", "a plan of the problem (`FILE`)")
	within := fs.Duration("within", usualWithin, "the most time for planning first; 0s for none (`DURATION`)")
	progress := progressFlag(fs)
	asJSON := fs.Bool("json", false, "the answer for a program to read")
	words, err := fs.parse(args)
	if err != nil {
		return err
	}
	if of.drive != "" {
		if len(words) > 0 || *group != "" || *name != "" || (of.lot > 0) == (*size != "") {
			return usage("say either a lot of the drive or the size of cloth: boltward yield --drive spring --lot 12")
		}
		of.size, of.turn, of.json = *size, *turn, *asJSON
		return of.run(ctx, env)
	}
	if len(words) != 1 || *size == "" || *group == "" {
		return usage("say which problem, and the lot: boltward yield problem.json --size 54x42 --group solid-navy")
	}
	problem, plan, err := readOrPlan(ctx, env, words[0], *name, planning.Options{Within: *within, Progress: progressFor(ctx, env, *progress), Now: env.Now})
	if err != nil {
		return err
	}
	lot, err := lotOf(problem, *size, *group, *roles, *turn)
	if err != nil {
		return err
	}
	y, err := planning.Yield(ctx, problem, plan, lot)
	if err != nil {
		return err
	}
	if ctx.Err() != nil {
		env.say(notAllTried)
	}
	if *asJSON {
		return json.NewEncoder(env.Stdout).Encode(y)
	}
	for _, a := range y.Alone {
		if a.Panels > 0 {
			fmt.Fprintf(env.Stdout, "alone: %d × %s of %s\n", a.Panels, a.Role, a.Case)
		}
	}
	for _, q := range y.Quotas {
		fmt.Fprintf(env.Stdout, "%s: %d, now %d\n", q.ID, q.To, q.From)
	}
	least := ""
	if ctx.Err() != nil {
		least = "at least "
	}
	_, err = fmt.Fprintf(env.Stdout, "With what is on the shelf: %s%d more pillowcases.\n", least, y.Completes)
	return err
}

// lotOf makes a fabric of what was typed; the group's own roles and turn come first.
func lotOf(p *planning.Problem, size, group, roles, turn string) (planning.Fabric, error) {
	lot := planning.Fabric{ID: "this lot", Pieces: 1, Group: group, Roles: strings.Split(roles, ","), Turn: planning.Turn(turn)}
	for i := range p.Fabrics {
		if p.Fabrics[i].Group == group {
			lot.Roles, lot.Turn = p.Fabrics[i].Roles, p.Fabrics[i].Turn
		}
		if p.Fabrics[i].ID == lot.ID {
			lot.ID += "'"
		}
	}
	long, wide, ok := strings.Cut(size, "x")
	var err error
	if lot.Length, err = planning.ParseDecimal(strings.TrimSpace(long)); err == nil && ok {
		lot.Width, err = planning.ParseDecimal(strings.TrimSpace(wide))
	}
	if err != nil || !ok || lot.Length.Sign() <= 0 || lot.Width.Sign() <= 0 {
		return lot, apperr.Invalid("--size", "%q is no length x width above 0, such as 54x42", size)
	}
	return lot, nil
}

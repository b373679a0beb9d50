package truth

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/planning"
	"boltward/internal/planning/proof"
)

// TestMain draws few problems usually and many in the long rounds. A number on the command line stands.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	draws := "40"
	if long() {
		draws = "3000"
	}
	if !given {
		if err := flag.Set("rapid.checks", draws); err != nil {
			panic(err)
		}
	}
	code := m.Run()
	if err := programs.end(); err != nil && code == 0 {
		println("a program beside the tests ended badly:", err.Error())
		code = 1
	}
	os.Exit(code)
}

func long() bool { return os.Getenv("BOLTWARD_LONG") != "" }

// planned plans a problem and holds the plan to both checkers.
func planned(t require.TestingT, p *planning.Problem, o planning.Options) *planning.Plan {
	plan, err := planning.Solve(context.Background(), p, o)
	require.NoError(t, err)
	require.Empty(t, planning.Check(p, plan), "the plan of %s", text(t, p))
	requireProven(t, p, plan)
	return plan
}

func requireProven(t require.TestingT, p *planning.Problem, plan *planning.Plan) {
	_, err := proof.Check(context.Background(), bytes.NewReader(text(t, p)), bytes.NewReader(text(t, plan)))
	require.NoError(t, err, "the second checker on %s", text(t, p))
}

func text(t require.TestingT, v any) []byte {
	out, err := json.Marshal(v)
	require.NoError(t, err)
	return out
}

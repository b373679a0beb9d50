package planning

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// A plan that is written in parts is the one that would be written whole.
func TestAPlanIsWrittenInParts(t *testing.T) {
	for name, p := range map[string]*Plan{
		"made":    solved(t, teaTable(t), Options{}),
		"nothing": {Unit: "in"},
		"large":   largePlan(2*atOnce + 3),
		"even":    largePlan(2 * atOnce),
	} {
		whole, err := compact(p)
		require.NoError(t, err)
		var parts bytes.Buffer
		require.NoError(t, p.Write(&parts))
		require.Equal(t, string(whole)+"\n", parts.String(), name)
	}
}

// A plan written for somebody to read is the same plan, and its certificate takes one line.
func TestAPlanIsWrittenInLines(t *testing.T) {
	made := solved(t, teaTable(t), Options{})
	require.NotNil(t, made.Certificate)
	bare := *made
	bare.Certificate = nil
	for name, p := range map[string]*Plan{"made": made, "bare": &bare, "nothing": {Unit: "in"}, "large": largePlan(3)} {
		whole, err := compact(p)
		require.NoError(t, err)
		var lines bytes.Buffer
		require.NoError(t, p.WriteLines(&lines))
		var tight bytes.Buffer
		require.NoError(t, json.Compact(&tight, lines.Bytes()), name)
		require.Equal(t, string(whole), tight.String(), name)
		last := bytes.LastIndex(bytes.TrimSuffix(lines.Bytes(), []byte("\n}\n")), []byte("\n"))
		require.Equal(t, p.Certificate != nil, bytes.HasPrefix(lines.Bytes()[last+1:], []byte(` "certificate": {`)), name)
		require.ErrorContains(t, p.WriteLines(&fullDisk{10}), "the disk is full", name)
	}
}

func largePlan(n int) *Plan {
	p := &Plan{Unit: "cm", Quotas: []QuotaMade{{"a & b", n}}, Kits: []Kit{}}
	for i := range n {
		p.Layouts = append(p.Layouts, Layout{Fabric: fmt.Sprint("<", i, ">"), Piece: 1, Used: Whole(int64(i)), Panels: []PlacedPanel{{ID: "x"}}})
		p.Kits = append(p.Kits, Kit{ID: fmt.Sprint("K", i), Pillowcases: []map[string][]string{{Body: {"x"}}}})
	}
	return p
}

type fullDisk struct{ left int }

func (d *fullDisk) Write(b []byte) (int, error) {
	if d.left -= len(b); d.left < 0 {
		return 0, errors.New("the disk is full")
	}
	return len(b), nil
}

func TestAPlanThatCannotBeWrittenSaysSo(t *testing.T) {
	for _, room := range []int{0, 10, 2000, 60_000} {
		require.ErrorContains(t, largePlan(3*atOnce).Write(&fullDisk{room}), "the disk is full", "room for %d", room)
	}
}

func BenchmarkWritingAPlan(b *testing.B) {
	p := largePlan(90_000)
	b.Run("in parts", func(b *testing.B) {
		for range b.N {
			require.NoError(b, p.Write(io.Discard))
		}
	})
	b.Run("whole", func(b *testing.B) {
		for range b.N {
			require.NoError(b, json.NewEncoder(io.Discard).Encode(p))
		}
	})
}

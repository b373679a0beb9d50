package postgres

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math/bits"
)

// RowSum counts the rows of a table and sums them up, as they come from COPY in its
// text format: one line a row. The sum is that of the SHA-256 of each line, as numbers of
// 256 bits, so that it does not depend on the order in which a database keeps its rows.
// It finds what was changed by accident; against intent a backup is encrypted.
type RowSum struct {
	Rows  int64
	Bytes int64

	sum  [sha256.Size / 8]uint64
	line hash.Hash
	open bool // a line has begun
}

// NewRowSum gives the sum of no row.
func NewRowSum() *RowSum { return &RowSum{line: sha256.New()} }

// Write takes any part of the lines; it never fails.
func (s *RowSum) Write(p []byte) (int, error) {
	s.Bytes += int64(len(p))
	for rest := p; len(rest) > 0; {
		end := bytes.IndexByte(rest, '\n')
		if end < 0 {
			s.line.Write(rest)
			s.open = true
			break
		}
		s.line.Write(rest[:end+1])
		s.add()
		rest = rest[end+1:]
	}
	return len(p), nil
}

func (s *RowSum) add() {
	var one [sha256.Size]byte
	s.line.Sum(one[:0])
	s.line.Reset()
	s.open = false
	s.Rows++
	var carry uint64
	for i := range s.sum {
		s.sum[i], carry = bits.Add64(s.sum[i], binary.LittleEndian.Uint64(one[8*i:]), carry)
	}
}

// Whole says whether the last line has ended.
func (s *RowSum) Whole() bool { return !s.open }

// String gives the sum in 64 hexadecimal digits.
func (s *RowSum) String() string {
	var text [sha256.Size]byte
	for i, part := range s.sum {
		binary.LittleEndian.PutUint64(text[8*i:], part)
	}
	return hex.EncodeToString(text[:])
}

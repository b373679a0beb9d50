package workbook

import (
	"bytes"
	"compress/flate"
	"fmt"
	"io"
	"runtime"
	"sync"
)

// packedAtOnce is how much of a part is packed as one block: enough that what is lost where
// blocks meet does not show, little beside what a long sheet holds in memory anyway.
const packedAtOnce = 1 << 20

// packer is a deflate stream made of blocks that are packed side by side, as many as there
// are processors, and written in their order. It is closed once, also after an error.
type packer struct {
	to      io.Writer
	block   []byte
	waiting []chan packedBlock // in their order
	failed  error
}

type packedBlock struct {
	bytes *bytes.Buffer
	err   error
}

// packers and blocks are used again: each holds about a megabyte.
var (
	packers = sync.Pool{New: func() any {
		w, err := flate.NewWriter(nil, flate.BestSpeed)
		if err != nil {
			panic(err) // the level is a constant
		}
		return w
	}}
	blocks = sync.Pool{New: func() any { b := make([]byte, 0, packedAtOnce); return &b }}
)

func newPacker(to io.Writer) (io.WriteCloser, error) { return &packer{to: to}, nil }

func (p *packer) Write(some []byte) (n int, err error) {
	for len(some) > 0 && p.failed == nil {
		if p.block == nil {
			p.block = *blocks.Get().(*[]byte)
		}
		take := min(len(some), packedAtOnce-len(p.block))
		p.block, some, n = append(p.block, some[:take]...), some[take:], n+take
		if len(p.block) == packedAtOnce {
			p.pack(false)
		}
	}
	return n, p.failed
}

func (p *packer) Close() error {
	p.pack(true)
	for len(p.waiting) > 0 {
		p.next()
	}
	return p.failed
}

// pack begins to pack the block that is full; the last one ends the stream.
func (p *packer) pack(last bool) {
	if len(p.waiting) >= runtime.GOMAXPROCS(0) {
		p.next()
	}
	block, done := p.block, make(chan packedBlock, 1)
	p.block = nil
	go func() {
		out, w := new(bytes.Buffer), packers.Get().(*flate.Writer)
		w.Reset(out)
		_, err := w.Write(block)
		if err == nil && last {
			err = w.Close()
		} else if err == nil {
			err = w.Flush()
		}
		packers.Put(w)
		if block != nil {
			block = block[:0]
			blocks.Put(&block)
		}
		done <- packedBlock{out, err}
	}()
	p.waiting = append(p.waiting, done)
}

// next writes the block that was begun first, once it is packed.
func (p *packer) next() {
	block := <-p.waiting[0]
	p.waiting = p.waiting[1:]
	if p.failed != nil {
		return
	}
	if p.failed = block.err; p.failed == nil {
		_, p.failed = block.bytes.WriteTo(p.to)
	}
	if p.failed != nil {
		p.failed = fmt.Errorf("packing: %w", p.failed)
	}
}

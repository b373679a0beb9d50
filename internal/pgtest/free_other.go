//go:build !linux

package pgtest

// freeBytes is 0: elsewhere there is no folder in memory.
func freeBytes(string) int64 { return 0 }

package pgtest

import "syscall"

// freeBytes is the room left in the file system of a folder; 0 where there is
// no such folder.
func freeBytes(folder string) int64 {
	var st syscall.Statfs_t
	if err := syscall.Statfs(folder, &st); err != nil {
		return 0
	}
	return int64(st.Bavail) * st.Bsize
}

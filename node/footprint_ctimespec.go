//go:build darwin || freebsd || netbsd

package node

import (
	"fmt"
	"os"
	"syscall"
)

// footprint tells a file from any copy of it: a copy has another number, or was
// changed at another time, which no program can set.
func footprint(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "", fmt.Errorf("%s: the system doesn't number its files", path)
	}
	return fmt.Sprintf("%d %d %d", stat.Ino, stat.Ctimespec.Nano(), info.Size()), nil
}

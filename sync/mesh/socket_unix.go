//go:build unix

package mesh

import (
	"runtime"
	"syscall"

	"golang.org/x/sys/unix"
)

type socket = int

// shareAddress lets several programs have the beacon port. Linux needs one
// option and would split unicast by the other one; the BSDs and macOS need both.
func shareAddress(fd socket) error {
	err := syscall.SetsockoptInt(fd, syscall.SOL_SOCKET, syscall.SO_REUSEADDR, 1)
	if err == nil && runtime.GOOS != "linux" {
		err = unix.SetsockoptInt(fd, unix.SOL_SOCKET, unix.SO_REUSEPORT, 1)
	}
	return err
}

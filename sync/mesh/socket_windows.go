package mesh

import "syscall"

type socket = syscall.Handle

// shareAddress lets several programs have the beacon port.
func shareAddress(fd socket) error {
	return syscall.SetsockoptInt(fd, syscall.SOL_SOCKET, syscall.SO_REUSEADDR, 1)
}

package mesh

import (
	"errors"
	"math"
	"net"
	"sync/atomic"
)

var errBudget = errors.New("more bytes than a stranger may send")

// budgetConn bounds what a stranger may send below TLS, since TLS itself
// gathers whole handshake messages before anybody can look at them.
type budgetConn struct {
	net.Conn
	left atomic.Int64
}

func newBudgetConn(conn net.Conn, most int64) *budgetConn {
	c := &budgetConn{Conn: conn}
	c.left.Store(most)
	return c
}

// raise allows more bytes to come.
func (c *budgetConn) raise(by int64) { c.left.Add(by) }

// lift ends the bound.
func (c *budgetConn) lift() { c.left.Store(math.MaxInt64) }

func (c *budgetConn) Read(p []byte) (int, error) {
	left := c.left.Load()
	if left == math.MaxInt64 {
		return c.Conn.Read(p)
	}
	if left <= 0 {
		return 0, errBudget
	}
	n, err := c.Conn.Read(p[:min(int64(len(p)), left)])
	c.left.Add(-int64(n))
	return n, err
}

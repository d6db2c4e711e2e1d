package exchange

import "plumbline/sync/entry"

// Claims keeps the sessions of one laptop from asking several peers for the
// same log at once: one asks, the others wait for what comes of it. It is used
// by one goroutine at a time, like the sessions.
type Claims struct {
	logs map[entry.LogID]*claim
	// received holds the last point of each log that came from a peer and was stored:
	// what a peer invents is refused, and mustn't gather here. In a
	// staff where everybody is linked to everybody, all others have got it
	// from its author by now; so it is announced to them, not pushed.
	received map[entry.LogID]entry.Point
}

type claim struct {
	by      *Session
	awaited bool // another session has asked for it
}

// NewClaims returns a table without claims.
func NewClaims() *Claims {
	return &Claims{logs: map[entry.LogID]*claim{}, received: map[entry.LogID]entry.Point{}}
}

// take reports whether the session has the log to itself.
func (c *Claims) take(log entry.LogID, s *Session) bool {
	have, taken := c.logs[log]
	if !taken {
		c.logs[log] = &claim{by: s}
		return true
	}
	have.awaited = have.awaited || have.by != s
	return have.by == s
}

// release frees the log and reports whether another session waits for it.
func (c *Claims) release(log entry.LogID, s *Session) bool {
	have, taken := c.logs[log]
	if !taken || have.by != s {
		return false
	}
	delete(c.logs, log)
	return have.awaited
}

package mesh

import (
	"errors"
	"fmt"
	"io"
	"net"
	"sync"
	"time"
)

// writeTime is how long a peer may take nothing at all.
const writeTime = 10 * time.Second

var errHungUp = errors.New("the other laptop has hung up")

// pump carries bytes between an admitted connection and the broker, until
// either ends, and returns why. Both are closed then.
func pump(peer, inside net.Conn) error {
	var once sync.Once
	var cause error
	end := func(err error) {
		once.Do(func() { cause = err })
		peer.Close()
		inside.Close()
	}
	var wg sync.WaitGroup
	wg.Go(func() {
		_, err := io.Copy(inside, peer)
		end(ended("read", err))
	})
	wg.Go(func() {
		_, err := io.Copy(steady{peer}, inside)
		end(ended("write", err))
	})
	wg.Wait()
	return cause
}

func ended(what string, err error) error {
	if err == nil {
		return errHungUp
	}
	return fmt.Errorf("%s: %w", what, err)
}

// steady is a connection whose writes must get somewhere. Without a bound a
// peer that has vanished would hold a blocked write for as long as the system
// keeps trying.
type steady struct{ net.Conn }

func (s steady) Write(p []byte) (int, error) {
	s.SetWriteDeadline(time.Now().Add(writeTime))
	return s.Conn.Write(p)
}

package node

import (
	"errors"
	"sync"
)

// share lets workers go through a list together. A worker that fails ends; what
// it had left to do isn't done.
func share[T any](workers int, list []T, do func(T) error) error {
	failed := make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		all.Go(func() {
			for i := w; i < len(list) && failed[w] == nil; i += workers {
				failed[w] = do(list[i])
			}
		})
	}
	all.Wait()
	return errors.Join(failed...)
}

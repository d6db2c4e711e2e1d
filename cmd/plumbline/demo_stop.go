package main

import "context"

// stop lets the reader open a page and look, until they press Enter. What ends
// standard input is as good.
func (t *trial) stop(ctx context.Context, what string) error {
	t.say("")
	t.say("%s", what)
	defer t.say("")
	select {
	case <-t.lines():
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// pages prints where laptops' pages are. Each address works once.
func (t *trial) pages(ctx context.Context, laptops ...*demoLaptop) error {
	var rows [][]string
	for _, l := range laptops {
		page, err := l.client.Launch(ctx)
		if err != nil {
			return l.why(err)
		}
		rows = append(rows, []string{l.person.Laptop, page})
	}
	t.tell(func() [][]string { return rows })
	return nil
}

package casebook

import (
	"context"
	"iter"
)

// inOrder runs jobs on a number of workers and hands their results to emit in the order of the jobs. It stops at the first error of
// emit or of the context, and holds at most a few results beyond the one being handed over.
func inOrder[T any](ctx context.Context, workers int, jobs iter.Seq[func() T], emit func(T) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	queue := make(chan chan T, 2*workers)
	slots := make(chan struct{}, workers)
	go func() {
		defer close(queue)
		for job := range jobs {
			result := make(chan T, 1)
			select {
			case <-ctx.Done():
				return
			case queue <- result:
			}
			slots <- struct{}{}
			go func() {
				defer func() { <-slots }()
				result <- job()
			}()
		}
	}()
	for result := range queue {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := emit(<-result); err != nil {
			return err
		}
	}
	return ctx.Err()
}

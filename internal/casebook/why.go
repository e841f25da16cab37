package casebook

import (
	"context"
	"fmt"

	"ruledout/kb"
)

// Why gives the whole reckoning of one possible culprit for an open case. A component that nothing speaks for is NotFound.
func (b *Book) Why(ctx context.Context, q kb.Case, component string) (kb.Account, error) {
	if err := b.follow(ctx); err != nil {
		return kb.Account{}, fmt.Errorf("why: %w", err)
	}
	model, _ := b.snapshot()
	return model.Why(canonical(q, b.Vocabulary()), b.Vocabulary().CanonicalComponent(component))
}

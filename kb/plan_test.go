package kb_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/kb"
)

func TestParseMoney(t *testing.T) {
	for s, want := range map[string]kb.Money{"250 EUR": {Amount: "250", Currency: "EUR"}, " eur 12.50 ": {Amount: "12.50", Currency: "EUR"}, "0 CHF": {Amount: "0", Currency: "CHF"}} {
		m, ok := kb.ParseMoney(s)
		assert.True(t, ok, s)
		assert.Equal(t, want, m)
	}
	for _, s := range []string{"", "250", "EUR", "250EUR", "1,50 EUR", "-3 EUR", "1e3 EUR", "NaN EUR", "250 EURO", "250 EUR more", "250 E1R", "+5 EUR"} {
		_, ok := kb.ParseMoney(s)
		assert.False(t, ok, s)
	}
}

func TestMoneyAsNumber(t *testing.T) {
	assert.Equal(t, kb.Money{Amount: "12.35", Currency: "EUR"}, kb.MoneyOf(12.345678, "EUR"))
	x, ok := kb.Money{Amount: "12.5"}.Float()
	assert.True(t, ok)
	assert.InDelta(t, 12.5, x, 0)
	for _, s := range []string{"", "-1", "x", "Inf"} {
		_, ok := kb.Money{Amount: s}.Float()
		assert.False(t, ok, s)
	}
}

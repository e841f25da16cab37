package casebook

import (
	"fmt"
	"math/big"

	"ruledout/kb"
)

// Estimate is what a job comes to so far, in one currency. Amounts are rounded to hundredths, half up, each by itself; Total is the sum of
// the rounded ones, so that it adds up on paper.
type Estimate struct {
	Minutes  float64  `json:"minutes"`
	Labour   kb.Money `json:"labour"`
	Parts    kb.Money `json:"parts"`
	Total    kb.Money `json:"total"`
	Unpriced []string `json:"unpriced,omitempty"` // parts without a price, left out
	NoRate   bool     `json:"no_rate,omitempty"`  // there is labour, but no rate: it is left out
}

// Estimate reckons labour (rate times minutes) and parts (price times quantity). ok is false where there is no amount to reckon with.
// Amounts in several currencies are an error that names the field: nothing is converted.
func (f SheetFacts) Estimate() (e Estimate, ok bool, err error) {
	e.Minutes = f.Minutes()
	e.NoRate = f.Rate == nil && e.Minutes > 0
	sum := money{}
	labour := new(big.Rat)
	if f.Rate != nil {
		if labour, err = sum.take("rate", *f.Rate); err != nil {
			return e, false, err
		}
		hours := new(big.Rat).SetFloat64(e.Minutes)
		if hours == nil {
			return e, false, &kb.Error{Kind: kb.Invalid, Field: "labour", Msg: "the minutes are no number"}
		}
		labour.Mul(labour, hours.Quo(hours, big.NewRat(60, 1)))
	}
	parts := new(big.Rat)
	for i, p := range f.Parts {
		if p.Price == nil {
			e.Unpriced = append(e.Unpriced, p.Name)
			continue
		}
		price, err := sum.take(fmt.Sprintf("parts[%d].price", i), *p.Price)
		if err != nil {
			return e, false, err
		}
		parts.Add(parts, price.Mul(price, big.NewRat(int64(max(1, p.Quantity)), 1)))
	}
	if sum.currency == "" {
		return e, false, nil
	}
	labour, parts = hundredths(labour), hundredths(parts)
	e.Labour, e.Parts = sum.of(labour), sum.of(parts)
	e.Total = sum.of(labour.Add(labour, parts))
	return e, true, nil
}

// money holds the one currency of a reckoning.
type money struct{ currency, field string }

// take reads an amount, which must be in the currency of those before it.
func (m *money) take(field string, x kb.Money) (*big.Rat, error) {
	amount, ok := new(big.Rat).SetString(x.Amount)
	if err := checkMoney(field, &x); err != nil || !ok {
		return nil, err
	}
	if m.currency == "" {
		m.currency, m.field = x.Currency, field
	}
	if x.Currency != m.currency {
		return nil, &kb.Error{Kind: kb.Invalid, Field: field, Msg: fmt.Sprintf("is in %s but %s is in %s; an estimate has one currency, nothing is converted",
			x.Currency, m.field, m.currency)}
	}
	return amount, nil
}

func (m *money) of(x *big.Rat) kb.Money {
	return kb.Money{Amount: x.FloatString(2), Currency: m.currency}
}

// hundredths rounds an amount of zero or more, half up.
func hundredths(x *big.Rat) *big.Rat {
	n := new(big.Rat).Mul(x, big.NewRat(100, 1))
	n.Add(n, big.NewRat(1, 2))
	whole := new(big.Int).Quo(n.Num(), n.Denom())
	return new(big.Rat).SetFrac(whole, big.NewInt(100))
}

package rank_test

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// numbers counts the numbers in a value.
func numbers(v reflect.Value) int {
	n := 0
	switch v.Kind() {
	case reflect.Float64, reflect.Int:
		return 1
	case reflect.Array:
		for i := range v.Len() {
			n += numbers(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			n += numbers(v.Field(i))
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			n += numbers(v.MapIndex(k))
		}
	}
	return n
}

func TestEveryNumberOfParamsHasOneName(t *testing.T) {
	names := map[string]bool{}
	for _, c := range rank.Constants() {
		assert.False(t, names[c.Name], c.Name)
		names[c.Name] = true
		assert.NotEmpty(t, c.Doc, c.Name)
		p := rank.DefaultParams()
		v := c.Get(p)
		require.True(t, v >= c.Low && v <= c.High, "%s: the default %g is outside %g to %g", c.Name, v, c.Low, c.High)
		before := fmt.Sprintf("%+v", p)
		changed := p
		c.Set(&changed, c.High)
		assert.Equal(t, c.High, c.Get(changed), c.Name)
		assert.NotEqual(t, before, fmt.Sprintf("%+v", changed), c.Name)
		assert.Equal(t, before, fmt.Sprintf("%+v", p), "%s: a copy keeps its value", c.Name)
	}
	assert.Equal(t, numbers(reflect.ValueOf(rank.DefaultParams())), len(names), "every field of Params needs a line in Constants")
}

// someParams draws constants in their ranges.
func someParams(t *rapid.T) rank.Params {
	p := rank.DefaultParams()
	for _, c := range rank.Constants() {
		if rapid.Bool().Draw(t, c.Name) {
			v := rapid.Float64Range(c.Low, c.High).Draw(t, "value")
			if c.Scale == rank.Whole {
				v = math.Round(v)
			}
			c.Set(&p, v)
		}
	}
	return p
}

func TestParamsSurviveARecord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := someParams(t)
		if p.Validate() != nil {
			t.Skip("rates out of order")
		}
		data, err := rank.EncodeParams(p)
		require.NoError(t, err)
		got, err := rank.DecodeParams(data)
		require.NoError(t, err)
		require.Equal(t, p, got)
	})
}

func TestDecodeParams(t *testing.T) {
	got, err := rank.DecodeParams([]byte(`{"gamma":0.25,"found look":0.7}`))
	require.NoError(t, err)
	want := rank.DefaultParams()
	want.Gamma = 0.25
	want.Found["look"] = 0.7
	assert.Equal(t, want, got, "what is missing has its default")
	for name, tc := range map[string]struct{ data, field string }{
		"unknown name":    {`{"gamma":0.5,"delta":1}`, "delta"},
		"too high":        {`{"lambda":1.5}`, "lambda"},
		"too low":         {`{"K code":0}`, "K code"},
		"no number":       {`{"years":"4"}`, "years"},
		"null":            {`{"years":null}`, "years"},
		"half a pass":     {`{"passes":1.5}`, "passes"},
		"rates disagree":  {`{"upstream":0.01}`, "order of Found, Upstream and FalseAlarm"},
		"no object":       {`[1]`, "constants"},
		"nothing at all":  {``, "constants"},
		"another version": {`{"gamma":{"v":2}}`, "gamma"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := rank.DecodeParams([]byte(tc.data))
			var e *kb.Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, kb.Invalid, e.Kind)
			assert.Equal(t, tc.field, e.Field)
		})
	}
	p := rank.DefaultParams()
	p.Gamma = math.NaN()
	_, err = rank.EncodeParams(p)
	assert.Equal(t, kb.Invalid, kb.KindOf(err))
}

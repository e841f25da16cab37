package casebook

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// What a record of fitted constants carries.
const (
	modelID      = "model" // id of the log's entries of kind params
	modelVersion = 1       // of their body
)

// modelRecord is the body of a revision that puts fitted constants into force.
type modelRecord struct {
	V           int             `json:"v"`
	Constants   json.RawMessage `json:"constants"` // by name
	Date        string          `json:"date"`
	Cases       int             `json:"cases"`        // that counted
	Questions   int             `json:"questions"`    // of them asked
	LogPosition int64           `json:"log_position"` // up to which the log had been read
	Before      float64         `json:"before"`       // log loss under the built-in defaults
	After       float64         `json:"after"`        // log loss under the fitted constants
	Error       float64         `json:"error"`        // standard error of the difference
	Nested      bool            `json:"nested"`       // measured on folds that the fit did not see
	Gains       []rank.Gain     `json:"gains"`
}

// ModelInfo says by which constants the book answers, and where they come from.
type ModelInfo struct {
	V           int               `json:"v"`
	BuiltIn     bool              `json:"built_in"` // the book has not been fitted to its cases; what follows up to Nested is empty then
	Revision    int64             `json:"revision"` // of the log that put the constants into force
	By          string            `json:"by"`
	Date        string            `json:"date"`
	Cases       int               `json:"cases"`        // that counted
	Questions   int               `json:"questions"`    // of them asked
	LogPosition int64             `json:"log_position"` // up to which the log had been read
	Before      float64           `json:"before"`       // held-out log loss under the built-in defaults, nats a question
	After       float64           `json:"after"`        // the same under the constants in force
	Error       float64           `json:"error"`        // standard error of the difference
	Nested      bool              `json:"nested"`       // measured on folds that the fit did not see
	Constants   []ConstantInForce `json:"constants"`
}

// ConstantInForce is one constant as the book uses it.
type ConstantInForce struct {
	Name    string  `json:"name"`
	Doc     string  `json:"doc"`
	Default float64 `json:"default"`
	Value   float64 `json:"value"`
	Gain    float64 `json:"gain"`  // log loss a question that the default would add, all others as they are, nats
	Error   float64 `json:"error"` // standard error of Gain
}

// decodeModel reads the body of a revision of constants.
func decodeModel(body []byte) (modelRecord, rank.Params, error) {
	var r modelRecord
	if err := json.Unmarshal(body, &r); err != nil {
		return r, rank.Params{}, kb.Errorf(kb.Invalid, "it is no record of constants: %w", err)
	}
	if r.V != modelVersion {
		return r, rank.Params{}, kb.Errorf(kb.Invalid, "it has version %d, this program knows %d", r.V, modelVersion)
	}
	p, err := rank.DecodeParams(r.Constants)
	return r, p, err
}

// inForce is the last revision of constants that this program can use, and what is wrong with the last of all if that is another.
type inForce struct {
	revision store.Revision // none for the built-in defaults
	record   modelRecord
	params   rank.Params
	unusable error
}

// constantsInForce reads the constants from the log. Without any there the built-in defaults are in force.
func (b *Book) constantsInForce(ctx context.Context) (inForce, error) {
	out := inForce{params: rank.DefaultParams()}
	for x, err := range b.store.Entries(ctx, store.EntryParams) {
		if err != nil {
			return out, fmt.Errorf("constants of the model: %w", err)
		}
		if x.ID != modelID {
			continue
		}
		record, params, bad := decodeModel(x.Body)
		if bad != nil {
			out.unusable = fmt.Errorf("the constants of revision %d cannot be used: %w", x.Pos, bad)
			continue
		}
		out = inForce{revision: x, record: record, params: params}
	}
	return out, nil
}

// ModelInfo says by which constants the book answers. Constants that this program cannot use are passed over; Verify tells of them.
func (b *Book) ModelInfo(ctx context.Context) (ModelInfo, error) {
	now, err := b.constantsInForce(ctx)
	if err != nil {
		return ModelInfo{}, err
	}
	r := now.record
	out := ModelInfo{V: modelVersion, BuiltIn: now.revision.Pos == 0, Revision: now.revision.Pos, By: now.revision.Actor, Date: r.Date, Cases: r.Cases, Questions: r.Questions,
		LogPosition: r.LogPosition, Before: r.Before, After: r.After, Error: r.Error, Nested: r.Nested}
	gains := map[string]rank.Gain{}
	for _, g := range r.Gains {
		gains[g.Name] = g
	}
	for _, c := range rank.Constants() {
		g := gains[c.Name]
		out.Constants = append(out.Constants, ConstantInForce{Name: c.Name, Doc: c.Doc, Default: c.Get(rank.DefaultParams()), Value: c.Get(now.params),
			Gain: g.Gain, Error: g.Error})
	}
	return out, nil
}

// applyConstants follows a revision of constants; one that cannot be used leaves the former in force.
func (b *Book) applyConstants(r store.Revision) {
	if _, p, err := decodeModel(r.Body); err == nil && r.ID == modelID {
		b.params, b.stale = p, true
	}
}

// verifyModel sees that the last constants in the log can be used, and that the book answers by those in force.
func (b *Book) verifyModel(ctx context.Context) ([]Problem, error) {
	now, err := b.constantsInForce(ctx)
	if err != nil {
		return nil, err
	}
	var out []Problem
	if now.unusable != nil {
		out = append(out, Problem{"model", now.unusable.Error() + "; those before stay in force"})
	}
	if err := b.follow(ctx); err != nil {
		return nil, err
	}
	want, err := rank.EncodeParams(now.params)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	followed := b.params
	b.mu.Unlock()
	got, err := rank.EncodeParams(followed)
	if err != nil {
		return nil, err
	}
	if string(want) != string(got) {
		out = append(out, Problem{"model", "the book answers by other constants than the log gives"})
	}
	return out, nil
}

// RefitOptions say how the constants are fitted.
type RefitOptions struct {
	Quick bool // measure on the folds that the fit saw: less than half the time, and a little too good
}

// Refitted is the outcome of a refit.
type Refitted struct {
	ModelInfo
	Changes []AnswerChange `json:"changes"` // of the codes with the most cases
}

// Refit fits all constants of the model to the book's cases by held-out likelihood, and puts them into force for everyone who follows the log.
// The fit starts from the built-in defaults, so that it depends on nothing but the cases.
func (b *Book) Refit(ctx context.Context, by Actor, opt RefitOptions) (Refitted, error) {
	if err := by.may(Moderator, "refit the model"); err != nil {
		return Refitted{}, err
	}
	out, err := b.refit(ctx, by, opt)
	if err != nil {
		return out, fmt.Errorf("refit: %w", err)
	}
	return out, nil
}

func (b *Book) refit(ctx context.Context, by Actor, opt RefitOptions) (Refitted, error) {
	if err := b.follow(ctx); err != nil {
		return Refitted{}, err
	}
	old, pos := b.snapshot()
	s, err := b.sample(ctx)
	if err != nil {
		return Refitted{}, err
	}
	fitted, err := rank.Fit(s.cases, s.groups, b.Vocabulary(), rank.DefaultParams(), rank.FitOptions{Quick: opt.Quick, Stop: ctx.Err,
		Progress: func(done, total int) { b.progress(Progress{Work: "fitting constants", Done: done, Total: total}) }})
	if err != nil {
		return Refitted{}, err
	}
	body, err := encodeModel(fitted, pos, b.now())
	if err != nil {
		return Refitted{}, err
	}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		_, err := tx.Append(store.Entry{Kind: store.EntryParams, ID: modelID, Verb: "refit", Actor: by.Name, At: b.now(), Body: body})
		return err
	})
	if err != nil {
		return Refitted{}, err
	}
	err = errors.Join(b.follow(ctx), b.catchUp(ctx))
	if err != nil {
		return Refitted{}, err
	}
	now, _ := b.snapshot()
	info, err := b.ModelInfo(ctx)
	return Refitted{info, answerChanges(s.cases, old, now)}, err
}

// FitTo fits the constants to cases in the vocabulary's terms and puts nothing into force: what a nested Backtest does with every part.
func (b *Book) FitTo(training []kb.Case, groups []int) (rank.Params, error) {
	f, err := rank.Fit(training, groups, b.Vocabulary(), rank.DefaultParams(), rank.FitOptions{Quick: true})
	return f.Params, err
}

// encodeModel gives the body of the revision that puts fitted constants into force.
func encodeModel(f rank.Fitted, pos int64, now time.Time) ([]byte, error) {
	constants, err := rank.EncodeParams(f.Params)
	if err != nil {
		return nil, err
	}
	return json.Marshal(modelRecord{V: modelVersion, Constants: constants, Date: now.UTC().Format(time.DateOnly), Cases: f.Cases, Questions: f.Questions,
		LogPosition: pos, Before: rounded(f.Before), After: rounded(f.After), Error: rounded(f.Error), Nested: f.Nested, Gains: moved(f.Gains)})
}

// moved gives the gains that tell something, rounded.
func moved(list []rank.Gain) []rank.Gain {
	out := []rank.Gain{}
	for _, g := range list {
		if g.Value != g.Default || g.Gain != 0 {
			g.Gain, g.Error = rounded(g.Gain), rounded(g.Error)
			out = append(out, g)
		}
	}
	return out
}

// rounded keeps six decimals: what is below is noise.
func rounded(x float64) float64 { return math.Round(x*1e6) / 1e6 }

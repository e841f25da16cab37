package casebook

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"runtime"
	"slices"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
	"ruledout/kb/rank/score"
)

// BacktestOptions say how the book is put to the test.
type BacktestOptions struct {
	AsOf   time.Time // learn from the cases posted up to this day and ask the later ones; zero: folds
	Folds  int       // parts that are held out in turn, 10 if 0; not with AsOf
	ByCode int       // figures of their own for codes with at least so many questions, 10 if 0
	Nested bool      // fit the constants anew on every training part by Fit; else those in force are used everywhere
	Fit    Fitting   // wanted with Nested

	Workers  int                   // cases asked at a time, as many as there are processors if 0
	Progress func(done, total int) // told of every case asked; nil: the book's own progress is
}

// Fitting fits the constants of the model on training cases in the vocabulary's terms, whose groups no fold of it may split.
type Fitting func(training []kb.Case, groups []int) (rank.Params, error)

// Backtest is how well the book answers cases that it has not seen. Every question is asked at the start (machine, codes and symptoms) and
// at the bench (what was tested and tried as well, up to where the culprit shows).
type Backtest struct {
	V           int           `json:"v"`
	LogPosition int64         `json:"log_position"`
	Split       string        `json:"split"`     // how the cases were parted
	Constants   string        `json:"constants"` // which the model used
	Cases       int           `json:"cases"`     // that count as evidence
	Groups      int           `json:"groups"`    // of them, never split: one write-up, one repair
	Asked       int           `json:"asked"`
	LeftOut     int           `json:"left_out"`    // later cases not asked, since one of their group was learned from
	BenchSteps  int           `json:"bench_steps"` // questions that say more at the bench than at the start
	Start       Decision      `json:"start"`       // the headline
	Bench       Decision      `json:"bench"`
	ByCode      []CodeFigures `json:"by_code"` // at the start, most questions first
	Unlisted    []Stratum     `json:"unlisted"`
}

// Decision holds the figures at one point of a repair, beside two plain ways to answer the same questions.
type Decision struct {
	Book     score.Summary `json:"book"`
	Frequent score.Summary `json:"most_frequent"` // the most frequent culprits of the code
	Nearest  score.Summary `json:"nearest"`       // the vote of the cases nearest by text
}

// CodeFigures are the figures of the questions with one code, at the start.
type CodeFigures struct {
	Code     string        `json:"code"`
	Issuer   string        `json:"issuer"`
	Book     score.Summary `json:"book"`
	Frequent score.Summary `json:"most_frequent"`
}

// Stratum holds, for questions whose code had a number of cases to learn from, what was stated for "none of those listed" at the start, and
// how often it was so.
type Stratum struct {
	From   int     `json:"from"` // cases of the code
	To     int     `json:"to"`   // 0: no bound
	N      int     `json:"n"`
	Stated float64 `json:"stated"` // mean
	So     int     `json:"so"`
	Share  float64 `json:"share"`
	Error  float64 `json:"error"` // standard error of the share if what was stated is true
	score.Interval
}

// Backtest asks held-out cases of the book itself. What answers a case has never seen it, nor any case of its group: every part has its own
// evidence table, model and constants. The text index serves the vote of the nearest, and its hits outside the training part are dropped; only
// how common a word is comes from all cases. The same book gives the same figures.
func (b *Book) Backtest(ctx context.Context, opt BacktestOptions) (Backtest, error) {
	ctx, done, err := b.begin(ctx)
	if err != nil {
		return Backtest{}, fmt.Errorf("backtest: %w", err)
	}
	defer done()
	out, err := b.backtest(ctx, opt)
	if err != nil {
		return Backtest{}, fmt.Errorf("backtest: %w", err)
	}
	return out, nil
}

func (b *Book) backtest(ctx context.Context, opt BacktestOptions) (Backtest, error) {
	opt, err := opt.complete()
	if err != nil {
		return Backtest{}, err
	}
	if err := b.openIndex(ctx); err != nil {
		return Backtest{}, err
	}
	pos, err := b.store.Position(ctx)
	if err != nil {
		return Backtest{}, err
	}
	s, err := b.sample(ctx)
	if err != nil {
		return Backtest{}, err
	}
	parts, err := s.parts(opt)
	if err != nil {
		return Backtest{}, err
	}
	out := Backtest{V: kb.Version, LogPosition: pos, Split: opt.split(len(parts)), Constants: "those in force", Cases: len(s.cases),
		Groups: countDifferent(s.groups)}
	if opt.Nested {
		out.Constants = "fitted anew on each training part"
	}
	trials, err := b.tryAll(ctx, s, parts, opt)
	if err != nil {
		return Backtest{}, err
	}
	out.Asked, out.LeftOut = len(trials), s.leftOut(parts)
	out.fill(trials, opt.ByCode)
	return out, nil
}

func (opt BacktestOptions) complete() (BacktestOptions, error) {
	if opt.Folds == 0 {
		opt.Folds = 10
	}
	if opt.ByCode == 0 {
		opt.ByCode = 10
	}
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case opt.Folds < 2:
		return opt, &kb.Error{Kind: kb.Invalid, Field: "folds", Msg: "want two parts at least"}
	case opt.ByCode < 0:
		return opt, &kb.Error{Kind: kb.Invalid, Field: "by code", Msg: "want a number of questions above zero"}
	case opt.Nested && opt.Fit == nil:
		return opt, &kb.Error{Kind: kb.Invalid, Field: "nested", Msg: "nothing was given to fit the constants with"}
	}
	return opt, nil
}

func (opt BacktestOptions) split(parts int) string {
	if opt.AsOf.IsZero() {
		return fmt.Sprintf("%d folds", parts)
	}
	return "learned up to " + opt.AsOf.Format(time.DateOnly) + ", asked what came later"
}

// sample is what the book has to learn from and to ask: the cases that count, in order of id and in the vocabulary's terms.
type sample struct {
	cases  []kb.Case
	groups []int
	days   []time.Time // when each was posted, else taken in
	byID   map[kb.CaseID]int
}

func (b *Book) sample(ctx context.Context) (*sample, error) {
	s := &sample{byID: map[kb.CaseID]int{}}
	var merged []kb.Case
	var links [][2]kb.CaseID
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Published, kb.Merged}}) {
		if err != nil {
			return nil, err
		}
		c := canonical(r.Case, b.Vocabulary())
		switch {
		case c.State == kb.Merged:
			into, err := b.store.Case(ctx, c.ID)
			if err != nil {
				return nil, err
			}
			merged, links = append(merged, c), append(links, [2]kb.CaseID{c.ID, into.Case.ID})
		case c.IsEvidence():
			s.byID[c.ID] = len(s.cases)
			s.cases, s.days = append(s.cases, c), append(s.days, postedOn(c, r.Created))
		}
	}
	s.groups = groups(slices.Concat(s.cases, merged), links...)[:len(s.cases)]
	return s, nil
}

// postedOn gives the day on which the first of a case's sources was posted; without one that tells, when the case came into the book.
func postedOn(c kb.Case, created time.Time) time.Time {
	var first time.Time
	for _, s := range c.Sources {
		for _, layout := range []string{time.DateOnly, time.RFC3339, "2006-01", "2006"} {
			if day, err := time.Parse(layout, s.Posted); err == nil && (first.IsZero() || day.Before(first)) {
				first = day
			}
		}
	}
	if first.IsZero() {
		first = created
	}
	return first.UTC()
}

// part says which cases are learned from and which are asked, by their places in the sample.
type part struct{ learn, ask []int }

func (s *sample) parts(opt BacktestOptions) ([]part, error) {
	if !opt.AsOf.IsZero() {
		p := s.asOf(opt.AsOf)
		if len(p.learn) == 0 || len(p.ask) == 0 {
			return nil, kb.Errorf(kb.NotFound, "of %d cases that count, %d are up to %s and %d later: there is nothing to test", len(s.cases),
				len(p.learn), opt.AsOf.Format(time.DateOnly), len(p.ask))
		}
		return []part{p}, nil
	}
	if n := countDifferent(s.groups); n < 2 {
		return nil, kb.Errorf(kb.NotFound, "the book has %d cases that count, in %d groups: there is nothing to test", len(s.cases), n)
	}
	return s.folds(opt.Folds), nil
}

// asOf parts by the day. A later case of which a duplicate or the write-up was learned from is not asked.
func (s *sample) asOf(day time.Time) part {
	var p part
	end := day.UTC().Truncate(24*time.Hour).AddDate(0, 0, 1)
	known := map[int]bool{}
	for i, posted := range s.days {
		if posted.Before(end) {
			p.learn = append(p.learn, i)
			known[s.groups[i]] = true
		}
	}
	for i, posted := range s.days {
		if !posted.Before(end) && !known[s.groups[i]] {
			p.ask = append(p.ask, i)
		}
	}
	return p
}

func (s *sample) leftOut(parts []part) int {
	if len(parts) > 1 {
		return 0
	}
	return len(s.cases) - len(parts[0].learn) - len(parts[0].ask)
}

// folds deals whole groups into parts of about equal size: in an order that hangs on nothing but the ids, each to the part that has the fewest
// cases so far. They are not stratified by culprit: that would hide how often a culprit is new.
func (s *sample) folds(n int) []part {
	members := make([][]int, countDifferent(s.groups))
	for i, g := range s.groups {
		members[g] = append(members[g], i)
	}
	members = s.shuffled(members)
	parts := make([]part, min(n, len(members)))
	for _, group := range members {
		least := 0
		for k := range parts {
			if len(parts[k].ask) < len(parts[least].ask) {
				least = k
			}
		}
		parts[least].ask = append(parts[least].ask, group...)
	}
	for k := range parts {
		slices.Sort(parts[k].ask)
		for i := range s.cases {
			if _, held := slices.BinarySearch(parts[k].ask, i); !held {
				parts[k].learn = append(parts[k].learn, i)
			}
		}
	}
	return parts
}

// shuffled orders groups as chance would, but the same cases always the same way.
func (s *sample) shuffled(members [][]int) [][]int {
	at := make([][sha256.Size]byte, len(members))
	order := make([]int, len(members))
	for g, list := range members {
		at[g], order[g] = sha256.Sum256([]byte(s.cases[list[0]].ID)), g
	}
	slices.SortFunc(order, func(a, b int) int { return bytes.Compare(at[a][:], at[b][:]) })
	out := make([][]int, len(members))
	for i, g := range order {
		out[i] = members[g]
	}
	return out
}

func countDifferent(numbers []int) int {
	n := 0
	for _, x := range numbers {
		n = max(n, x+1)
	}
	return n
}

// fill works out the figures.
func (out *Backtest) fill(trials []trial, byCode int) {
	pick := func(list []trial, of func(trial) score.Outcome) score.Summary {
		outcomes := make([]score.Outcome, len(list))
		for i, t := range list {
			outcomes[i] = of(t)
		}
		return score.Summarize(outcomes)
	}
	decision := func(at func(trial) answers) Decision {
		return Decision{Book: pick(trials, func(t trial) score.Outcome { return at(t).book }),
			Frequent: pick(trials, func(t trial) score.Outcome { return at(t).frequent }),
			Nearest:  pick(trials, func(t trial) score.Outcome { return at(t).nearest })}
	}
	out.Start = decision(func(t trial) answers { return t.start })
	out.Bench = decision(func(t trial) answers { return t.bench })
	of := map[code.Key][]trial{}
	for _, t := range trials {
		if t.steps {
			out.BenchSteps++
		}
		for _, k := range t.codes {
			of[k] = append(of[k], t)
		}
	}
	out.ByCode = []CodeFigures{}
	for k, list := range of {
		if len(list) >= byCode {
			out.ByCode = append(out.ByCode, CodeFigures{Code: k.Code, Issuer: k.Issuer, Book: pick(list, func(t trial) score.Outcome { return t.start.book }),
				Frequent: pick(list, func(t trial) score.Outcome { return t.start.frequent })})
		}
	}
	slices.SortFunc(out.ByCode, byQuestions)
	out.Unlisted = strata(trials)
}

package rank

import (
	"slices"

	"ruledout/kb"
)

// cited is a row with its closeness to the question.
type cited struct {
	row   int32
	level Level
	years int32
}

// closer orders rows by the deepest level shared, then by distance in years, then by id.
func (a cited) closer(b cited) bool {
	switch {
	case a.level != b.level:
		return a.level > b.level
	case a.years != b.years:
		return a.years < b.years
	}
	return a.row < b.row
}

// shortlist holds the closest rows of many, at most a fixed number.
type shortlist []cited

func (s *shortlist) add(c cited, most int) {
	if len(*s) == most && !c.closer((*s)[most-1]) {
		return
	}
	at := len(*s)
	for at > 0 && c.closer((*s)[at-1]) {
		at--
	}
	*s = slices.Insert(*s, at, c)
	if len(*s) > most {
		*s = (*s)[:most]
	}
}

// record is what cases have to say for one culprit: how many name it, how closely, by which actions it was cured, which of them to see,
// and for each factor the ones that speak of the same thing.
type record struct {
	count   int
	seen    Level
	actions []int
	cases   shortlist
	speak   []shortlist
	apart   bool // no near case names it: these are cases elsewhere
}

// look passes once through the cases near the question: those that share a code with it, or its kind and make where it has no code.
func (r *reply) look() {
	r.records = make([]*record, r.size())
	r.used = make([]int32, len(r.m.numbers.list))
	r.eachNear(r.note)
}

// eachNear goes once through the cases near the question.
func (r *reply) eachNear(do func(i int32)) {
	if len(r.q.Codes) == 0 {
		for i := range r.m.rows {
			if r.ask.sameMachine(&r.m.lean[i]) {
				do(int32(i))
			}
		}
		return
	}
	for j, k := range r.q.Codes {
		if slices.ContainsFunc(r.q.Codes[:j], func(o keyed) bool { return o.Key == k.Key }) {
			continue
		}
		for _, i := range r.m.byCode[k.Key] {
			if j == 0 || !r.sharesEarlier(i, j) {
				do(i)
			}
		}
	}
}

// sharesEarlier tells whether a row has one of the question's first j codes.
func (r *reply) sharesEarlier(i int32, j int) bool {
	for _, k := range r.q.Codes[:j] {
		for _, o := range r.m.rows[i].Codes {
			if o.Key == k.Key {
				return true
			}
		}
	}
	return false
}

// lookElsewhere passes through all cases that name a culprit which no near case names.
func (r *reply) lookElsewhere(f int) *record {
	if r.records[f] == nil {
		r.records[f] = r.newRecord()
		r.records[f].apart = true
		if f < len(r.m.names) {
			for _, i := range r.m.byCulprit[f] {
				r.noteFor(r.records[f], i, int32(f))
			}
		}
	}
	return r.records[f]
}

func (r *reply) newRecord() *record {
	return &record{actions: make([]int, len(kb.Actions())), speak: make([]shortlist, len(r.factors))}
}

// note takes a row into the records of the culprits that it names.
func (r *reply) note(i int32) {
	if len(r.ex.rows) > 0 && r.ex.rows[i] {
		return
	}
	for _, f := range r.m.named[i] {
		if r.records[f] == nil {
			r.records[f] = r.newRecord()
		}
		r.noteFor(r.records[f], i, f)
	}
}

func (r *reply) noteFor(rec *record, i, f int32) {
	if len(r.ex.rows) > 0 && r.ex.rows[i] {
		return
	}
	x := &r.m.lean[i]
	c := cited{i, r.ask.levelOf(x), r.ask.yearsTo(x)}
	rec.count++
	rec.seen = max(rec.seen, c.level)
	rec.cases.add(c, r.opt.MaxCases)
	for _, cure := range x.cures {
		if cure.culprit == f && cure.action >= 0 {
			rec.actions[cure.action]++
		}
	}
	if x.mask&r.ask.mask != 0 {
		for _, t := range x.topics {
			if maskOf(t)&r.ask.mask == 0 {
				continue
			}
			for _, j := range r.ask.subject[t] {
				rec.speak[j].add(c, r.opt.MaxCases)
			}
		}
	}
	if r.p(int(f)) >= leading {
		for _, t := range x.tests {
			r.used[t]++
		}
	}
}

// whoDid lists the closest of the cases that name one of some culprits and hold one of some tests, by test, and counts them.
func (r *reply) whoDid(who func(f int32) bool, of func(*lean) []int32, wanted func(test int32) bool) (map[int32]shortlist, map[int32]int) {
	lists, n := map[int32]shortlist{}, map[int32]int{}
	r.eachNaming(who, func(i int32) {
		x := &r.m.lean[i]
		for _, t := range of(x) {
			if wanted(t) {
				n[t]++
				s := lists[t]
				s.add(cited{i, r.ask.levelOf(x), r.ask.yearsTo(x)}, r.opt.MaxCases)
				lists[t] = s
			}
		}
	})
	return lists, n
}

// eachNaming goes through the near cases that name one of some culprits, and through all cases of those that no near case names.
func (r *reply) eachNaming(who func(f int32) bool, do func(i int32)) {
	note := func(i int32) {
		if (len(r.ex.rows) == 0 || !r.ex.rows[i]) && slices.ContainsFunc(r.m.named[i], who) {
			do(i)
		}
	}
	r.eachNear(note)
	for f, rec := range r.records {
		if rec != nil && rec.apart && f < len(r.m.names) && who(int32(f)) {
			for _, i := range r.m.byCulprit[f] {
				note(i)
			}
		}
	}
}

func (r *reply) ids(list shortlist) []kb.CaseID {
	out := make([]kb.CaseID, 0, len(list))
	for _, c := range list {
		out = append(out, r.m.rows[c.row].ID)
	}
	return out
}

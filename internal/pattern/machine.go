package pattern

import (
	"regexp/syntax"
	"slices"
	"sync"
	"sync/atomic"
	"unicode/utf8"
)

// Bounds of what a machine keeps: a pattern that runs into them again and again is left to package regexp.
const (
	maxStates = 2000 // states of one cache
	maxCaches = 16   // caches that may fill up
	near      = 64   // classes that are looked up at once
)

// machine runs one program over texts, in one direction.
type machine struct {
	prog     *syntax.Prog
	backward bool // texts are read from their end; of all matches the longest counts
	anchored bool // a match begins where the search does
	classes  classes
	cache    atomic.Pointer[cache]
	filled   atomic.Int32 // caches that were given up because they were full
}

// cache holds the states that searches have been in.
type cache struct {
	mu        sync.Mutex
	states    map[string]*state
	starts    [4]atomic.Pointer[state] // by what stands before the start
	now, then walk
}

func newCache() *cache { return &cache{states: map[string]*state{}} }

// state is what is known in the middle of a search: the instructions that wait for the next character, the likeliest first.
type state struct {
	next    [near]atomic.Pointer[state] // by class of the next character
	far     []atomic.Pointer[state]     // by those beyond near
	matched bool                        // a match ends before the last character
	dead    bool                        // no match can follow
	stop    bool                        // matched or dead
	found   bool                        // a match has been seen: none may begin any more
	wait    []uint32
	before  lead
}

// lead is what stands before a place in a text, as far as conditions such as a word's border ask for it.
type lead uint8

const (
	leadNone lead = iota // the text begins
	leadLine             // a line end
	leadWord             // a letter, digit or low line
	leadOther
)

// leadRunes are characters of each kind.
var leadRunes = [4]rune{-1, '\n', 'a', ' '}

func leadOf(r rune) lead {
	switch {
	case r < 0:
		return leadNone
	case r == '\n':
		return leadLine
	case syntax.IsWordChar(r):
		return leadWord
	}
	return leadOther
}

// newMachine makes the machine of an expression; one that reads backwards is for the mirrored expression.
func newMachine(expr string, backward bool) *machine {
	tree, err := syntax.Parse(expr, syntax.Perl)
	if err != nil {
		panic("pattern: " + err.Error())
	}
	tree = tree.Simplify()
	if backward {
		tree = mirror(tree)
	}
	prog, err := syntax.Compile(tree)
	if err != nil {
		panic("pattern: " + err.Error())
	}
	m := &machine{prog: prog, backward: backward, anchored: backward || prog.StartCond()&syntax.EmptyBeginText != 0}
	m.classes.learn(prog)
	m.cache.Store(newCache())
	return m
}

// search gives the end of the first match that begins at from or later, -1 if there is none. With any, it is enough to know
// that there is one. It reports false where the machine cannot tell.
func (m *machine) search(text string, from int, any bool) (end int, ok bool) {
	before := leadNone
	if from > 0 {
		r, _ := utf8.DecodeLastRuneInString(text[:from])
		before = leadOf(r)
	}
	s := m.start(before)
	if s == nil {
		return 0, false
	}
	end = -1
	ascii := m.classes.ascii()
	for at := from; at < len(text); {
		class, size := uint16(0), 1
		if b := text[at]; b < utf8.RuneSelf {
			class = ascii[b]
		} else {
			class, size = m.wide(text[at:])
		}
		n := s.to(class)
		if n == nil {
			if n = m.follow(s, class); n == nil {
				return 0, false
			}
		}
		if n.stop {
			if n.matched {
				if end = at; any {
					return end, true
				}
			}
			if n.dead {
				return end, true
			}
		}
		s = n
		at += size
	}
	n := m.step(s, endClass)
	if n == nil {
		return 0, false
	}
	if n.matched {
		end = len(text)
	}
	return end, true
}

// begins gives the start of the match that ends at end, not before from: the first place from which it can be reached.
func (m *machine) begins(text string, from, end int) (start int, ok bool) {
	before := leadNone
	if end < len(text) {
		r, _ := utf8.DecodeRuneInString(text[end:])
		before = leadOf(r)
	}
	s := m.start(before)
	start = -1
	for at := end; s != nil; {
		class, size := endClass, 0
		if at > 0 {
			var r rune
			r, size = utf8.DecodeLastRuneInString(text[:at])
			class = m.classes.of(r)
		}
		if s = m.step(s, class); s == nil {
			break
		}
		if s.matched {
			start = at
		}
		if s.dead || at <= from {
			return start, true
		}
		at -= size
	}
	return 0, false
}

// wide gives the class of the character of several bytes that a text begins with.
func (m *machine) wide(text string) (class uint16, size int) {
	r, size := utf8.DecodeRuneInString(text)
	return m.classes.of(r), size
}

// to is the known state after a character; nil if none is.
func (s *state) to(class uint16) *state {
	if class < near {
		return s.next[class].Load()
	}
	if int(class)-near < len(s.far) {
		return s.far[class-near].Load()
	}
	return nil
}

func (m *machine) step(s *state, class uint16) *state {
	if n := s.to(class); n != nil {
		return n
	}
	return m.follow(s, class)
}

// start gives the state before the first character; nil if the machine has given up.
func (m *machine) start(before lead) *state {
	c := m.cache.Load()
	if c == nil {
		return nil
	}
	if s := c.starts[before].Load(); s != nil {
		return s
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.then.reset(m)
	c.then.add(m, uint32(m.prog.Start), unknown)
	s := m.keep(c, &state{before: before}, &c.then)
	if s != nil {
		c.starts[before].Store(s)
	}
	return s
}

// follow works out the state after a character of a class; nil if the machine has given up.
func (m *machine) follow(s *state, class uint16) *state {
	c := m.cache.Load()
	if c == nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	r := m.classes.sample(class)
	c.now.reset(m)
	cond := int(syntax.EmptyOpContext(leadRunes[s.before], r))
	for _, pc := range s.wait {
		c.now.add(m, pc, cond)
	}
	n := &state{before: leadOf(r), found: s.found}
	c.then.reset(m)
	for _, pc := range c.now.out {
		in := &m.prog.Inst[pc]
		if in.Op == syntax.InstMatch {
			n.matched, n.found = true, !m.backward
		} else if r >= 0 && in.MatchRune(r) {
			c.then.add(m, in.Out, unknown)
		}
	}
	if r >= 0 && !m.anchored && !n.found {
		c.then.add(m, uint32(m.prog.Start), unknown)
	}
	if n = m.keep(c, n, &c.then); n == nil {
		return nil
	}
	if class < near {
		s.next[class].Store(n)
	} else if int(class)-near < len(s.far) {
		s.far[class-near].Store(n)
	}
	return n
}

// keep gives the state that is kept for what a walk has reached; nil if the machine gives up.
func (m *machine) keep(c *cache, n *state, w *walk) *state {
	if m.backward {
		slices.Sort(w.out)
	}
	key := make([]byte, 0, 2*len(w.out)+2)
	key = append(key, byte(n.before), flags(n.matched, n.found))
	for _, pc := range w.out {
		key = append(key, byte(pc), byte(pc>>8), byte(pc>>16))
	}
	if have := c.states[string(key)]; have != nil {
		return have
	}
	n.wait = slices.Clone(w.out)
	n.dead = len(n.wait) == 0
	n.stop = n.matched || n.dead
	n.far = make([]atomic.Pointer[state], max(0, m.classes.room()-near))
	if len(c.states) < maxStates {
		c.states[string(key)] = n
		return n
	}
	if m.filled.Add(1) >= maxCaches {
		m.cache.CompareAndSwap(c, nil)
		return nil
	}
	m.cache.CompareAndSwap(c, newCache())
	return n
}

func flags(matched, found bool) byte {
	out := byte(0)
	if matched {
		out |= 1
	}
	if found {
		out |= 2
	}
	return out
}

// walk collects the instructions that wait for a character, in the order of their likelihood.
type walk struct {
	out  []uint32
	seen []bool
	cut  bool // a match was reached: what comes after it is less likely
}

// unknown says that a walk leaves conditions open, because the next character is not known.
const unknown = -1

func (w *walk) reset(m *machine) {
	w.out, w.cut = w.out[:0], false
	if w.seen == nil {
		w.seen = make([]bool, len(m.prog.Inst))
	}
	clear(w.seen)
}

// add walks from an instruction to those that wait; cond are the conditions that hold, or unknown.
func (w *walk) add(m *machine, pc uint32, cond int) {
	if w.cut || w.seen[pc] {
		return
	}
	w.seen[pc] = true
	in := &m.prog.Inst[pc]
	switch in.Op {
	case syntax.InstFail:
	case syntax.InstAlt, syntax.InstAltMatch:
		w.add(m, in.Out, cond)
		w.add(m, in.Arg, cond)
	case syntax.InstCapture, syntax.InstNop:
		w.add(m, in.Out, cond)
	case syntax.InstEmptyWidth:
		if cond == unknown {
			w.out = append(w.out, pc)
		} else if syntax.EmptyOp(in.Arg)&^syntax.EmptyOp(cond) == 0 {
			w.add(m, in.Out, cond)
		}
	case syntax.InstMatch:
		w.out = append(w.out, pc)
		w.cut = !m.backward
	default:
		w.out = append(w.out, pc)
	}
}

// mirror gives the expression that matches what the tree matches, read from its end.
func mirror(tree *syntax.Regexp) *syntax.Regexp {
	out := *tree
	out.Sub = nil
	for _, sub := range tree.Sub {
		out.Sub = append(out.Sub, mirror(sub))
	}
	switch tree.Op {
	case syntax.OpConcat:
		slices.Reverse(out.Sub)
	case syntax.OpLiteral:
		out.Rune = slices.Clone(tree.Rune)
		slices.Reverse(out.Rune)
	case syntax.OpBeginText:
		out.Op = syntax.OpEndText
	case syntax.OpEndText:
		out.Op = syntax.OpBeginText
	case syntax.OpBeginLine:
		out.Op = syntax.OpEndLine
	case syntax.OpEndLine:
		out.Op = syntax.OpBeginLine
	}
	return &out
}

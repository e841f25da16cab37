package pattern

import (
	"regexp/syntax"
	"slices"
	"sync"
	"sync/atomic"
	"unicode/utf8"
)

// endClass is the class of the end of a text; those of characters follow it.
const endClass uint16 = 0

const (
	pageSize = 128 // characters whose classes are worked out together
	spare    = 24  // classes that a state has room for beside those of ASCII

)

// classes puts characters that a program cannot tell apart into one class.
type classes struct {
	asks  []*syntax.Inst // each question that the program asks of a character, once
	first atomic.Pointer[[pageSize]uint16]
	pages sync.Map // page number -> *[pageSize]uint16

	mu      sync.Mutex
	known   map[string]uint16 // answers to the questions -> class
	samples atomic.Pointer[[]rune]
}

func (c *classes) learn(prog *syntax.Prog) {
	seen := map[string]bool{}
	for i := range prog.Inst {
		in := &prog.Inst[i]
		switch in.Op {
		case syntax.InstRune, syntax.InstRune1, syntax.InstRuneAny, syntax.InstRuneAnyNotNL:
		default:
			continue
		}
		key := string([]rune{rune(in.Op), rune(in.Arg)}) + string(in.Rune)
		if !seen[key] {
			seen[key] = true
			c.asks = append(c.asks, in)
		}
	}
	c.known = map[string]uint16{}
	c.samples.Store(&[]rune{-1})
}

// ascii gives the classes of the characters of one byte.
func (c *classes) ascii() *[pageSize]uint16 {
	if p := c.first.Load(); p != nil {
		return p
	}
	p := c.page(0)
	c.first.Store(p)
	return p
}

// of gives the class of a character.
func (c *classes) of(r rune) uint16 {
	if r < utf8.RuneSelf {
		return c.ascii()[r]
	}
	if p, ok := c.pages.Load(r / pageSize); ok {
		return p.(*[pageSize]uint16)[r%pageSize]
	}
	p := c.page(r / pageSize)
	c.pages.Store(r/pageSize, p)
	return p[r%pageSize]
}

func (c *classes) page(number rune) *[pageSize]uint16 {
	c.mu.Lock()
	defer c.mu.Unlock()
	out := &[pageSize]uint16{}
	answers := make([]byte, len(c.asks)/8+2)
	for i := range out {
		r := number*pageSize + rune(i)
		clear(answers)
		answers[len(answers)-1] = byte(leadOf(r))
		for k, in := range c.asks {
			if in.MatchRune(r) {
				answers[k/8] |= 1 << (k % 8)
			}
		}
		class, ok := c.known[string(answers)]
		if !ok {
			samples := append(slices.Clone(*c.samples.Load()), r)
			class = uint16(len(samples) - 1)
			c.known[string(answers)] = class
			c.samples.Store(&samples)
		}
		out[i] = class
	}
	return out
}

// sample gives a character of a class, -1 for the end of the text.
func (c *classes) sample(class uint16) rune { return (*c.samples.Load())[class] }

// room is for how many classes a new state has room.
func (c *classes) room() int {
	c.ascii()
	return len(*c.samples.Load()) + spare
}

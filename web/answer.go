package web

import (
	"context"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// answered is what the book says to an open case, as the look-up and a job sheet show it.
type answered struct {
	Answer  kb.Answer
	Unknown bool           // no published case has the code
	Near    []casebook.Hit // cases nearest by words, where no case has the code
	Link    string         // leads to this look-up, personal data masked; empty where there is none
}

func (s *Server) answered(ctx context.Context, c kb.Case, a kb.Answer) (answered, error) {
	near, err := s.nearest(ctx, c, a)
	return answered{Answer: a, Unknown: len(c.Codes) > 0 && codeCases(a) == 0, Near: near}, err
}

// nearest gives the cases nearest by words where no published case has the code.
func (s *Server) nearest(ctx context.Context, c kb.Case, a kb.Answer) ([]casebook.Hit, error) {
	if codeCases(a) > 0 || len(c.Codes) == 0 {
		return nil, nil
	}
	var words []string
	for _, x := range c.Symptoms {
		words = append(words, x.Symptom)
	}
	words = append(words, c.Machine.Make, c.Machine.Model)
	text := strings.TrimSpace(strings.Join(words, " "))
	if text == "" {
		return nil, nil
	}
	found, err := s.book.Find(ctx, plainWords(text), casebook.FindOptions{Size: 5})
	return found.Hits, err
}

// plainWords takes the signs of the search language out of a text.
func plainWords(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(`":+-^~*()[]{}\/`, r) {
			return ' '
		}
		return r
	}, s)
}

// codeCases counts the cases that have the code.
func codeCases(a kb.Answer) int {
	for _, l := range a.Basis {
		if l.Level == "code" {
			return l.Cases
		}
	}
	return 0
}

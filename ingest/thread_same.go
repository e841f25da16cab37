package ingest

import (
	"cmp"
	"slices"
	"strings"
)

// SameThread tells whether two write-ups are readings of one thread: by address; without one on either side by title and a post
// that both have, or by title, page number ("page 2 of 5") and an author that both have. In doubt it says no.
func SameThread(a, b Thread) bool {
	switch {
	case a.Kind == KindRow || b.Kind == KindRow:
		return a.Key == b.Key
	case a.URL != "" && b.URL != "":
		return a.URL == b.URL
	case a.Key == b.Key:
		return true
	case !sameTitle(a, b) || a.Site != "" && b.Site != "" && !strings.EqualFold(a.Site, b.Site):
		return false
	}
	return matched(a.Posts, b.Posts).strong > 0 || samePager(a, b)
}

// sameTitle wants titles that say something: "Help" may stand above any thread.
func sameTitle(a, b Thread) bool {
	return strings.EqualFold(a.Title, b.Title) && wordCount(a.Title) >= 2
}

// samePager tells whether two write-ups are different pages of a thread of so many, in order of time, that share an author.
func samePager(a, b Thread) bool {
	if b.Page < a.Page {
		a, b = b, a
	}
	if a.Page == 0 || a.Page == b.Page || a.Pages != b.Pages || len(a.Posts) == 0 || len(b.Posts) == 0 {
		return false
	}
	last, next := a.Posts[len(a.Posts)-1].Time, b.Posts[0].Time
	if !last.IsZero() && !next.IsZero() && hasClock(last) && hasClock(next) && next.Before(last) {
		return false
	}
	return slices.ContainsFunc(a.Posts, func(p Post) bool {
		return p.Author != "" && slices.ContainsFunc(b.Posts, func(q Post) bool { return strings.EqualFold(p.Author, q.Author) })
	})
}

// Part tells whether a write-up says of itself that it is one page of several.
func (t Thread) Part() bool { return t.Page > 1 || t.Pages > 1 }

// GroupPages sorts write-ups into threads: each group holds the indices of the readings of one. A write-up without an address that
// could belong to several threads stays on its own. The groups do not depend on the order of the write-ups.
func GroupPages(pages []Thread) [][]int {
	group := make([]int, len(pages)) // of each page: the least index of its group
	byKey := map[string]int{}
	for i, t := range pages {
		first, ok := byKey[t.Key]
		if !ok {
			first = i
			byKey[t.Key] = i
		}
		group[i] = first
	}
	for _, list := range titled(pages) {
		joinTitled(pages, group, list)
	}
	var out [][]int
	at := map[int]int{}
	for i, g := range group {
		n, ok := at[g]
		if !ok {
			n = len(out)
			at[g] = n
			out = append(out, nil)
		}
		out[n] = append(out[n], i)
	}
	return out
}

// titled gives the write-ups that share a title, where one of them has no address: the others are told by it.
func titled(pages []Thread) [][]int {
	lists := map[string][]int{}
	loose := map[string]bool{}
	var order []string
	for i, t := range pages {
		title := strings.ToLower(t.Title)
		if t.Kind == KindRow || title == "" {
			continue
		}
		if lists[title] == nil {
			order = append(order, title)
		}
		lists[title] = append(lists[title], i)
		loose[title] = loose[title] || t.URL == ""
	}
	var out [][]int
	for _, title := range order {
		if list := lists[title]; loose[title] && len(list) > 1 && len(list) <= maxSameTitle {
			out = append(out, list)
		}
	}
	return out
}

// maxSameTitle bounds the write-ups of one title that are compared with each other; more of them share a title that says nothing.
const maxSameTitle = 200

// joinTitled joins the groups of write-ups without an address that are one thread, and each of those to the one group with an
// address that it fits.
func joinTitled(pages []Thread, group, list []int) {
	fits := func(i, j int) bool { return group[i] != group[j] && SameThread(pages[i], pages[j]) }
	rename := func(from, to int) {
		from, to = max(from, to), min(from, to)
		for i, g := range group {
			if g == from {
				group[i] = to
			}
		}
	}
	for n, i := range list {
		for _, j := range list[:n] {
			if pages[i].URL == "" && pages[j].URL == "" && fits(i, j) {
				rename(group[i], group[j])
			}
		}
	}
	wanted := map[int][]int{} // of a group without an address: a page of each group with one that it fits
	for _, i := range list {
		for _, j := range list {
			known := slices.ContainsFunc(wanted[group[i]], func(k int) bool { return group[k] == group[j] })
			if pages[i].URL == "" && pages[j].URL != "" && !known && fits(i, j) {
				wanted[group[i]] = append(wanted[group[i]], j)
			}
		}
	}
	pairs := [][2]int{} // joined when all are decided
	for _, i := range list {
		if to := wanted[group[i]]; pages[i].URL == "" && len(to) == 1 {
			pairs = append(pairs, [2]int{i, to[0]})
		}
	}
	for _, pair := range pairs {
		rename(group[pair[0]], group[pair[1]])
	}
}

// JoinPages joins the readings of each thread into one write-up with all of its posts, in order of page and time; posts that stand
// on two pages are there once. Whatever the order of the pages, the threads are the same; they come in order of their first page
// here.
func JoinPages(pages []Thread) []Thread {
	var out []Thread
	for _, list := range GroupPages(pages) {
		var group []Thread
		for _, i := range list {
			group = append(group, pages[i])
		}
		out = append(out, joinGroup(group))
	}
	return out
}

// joinGroup joins the readings of one thread, first page first, the shorter and older of two readings of one page first.
func joinGroup(group []Thread) Thread {
	group = slices.Clone(group)
	slices.SortStableFunc(group, comparePages)
	out := group[0]
	for _, t := range group[1:] {
		out = Join(out, t)
	}
	if out.URL != "" {
		out.Key = out.URL
	}
	return out
}

func comparePages(a, b Thread) int {
	order := cmp.Or(cmp.Compare(max(a.Page, 1), max(b.Page, 1)), firstTime(a).Compare(firstTime(b)), lastTime(a).Compare(lastTime(b)),
		cmp.Compare(len(a.Posts), len(b.Posts)), cmp.Compare(a.Title, b.Title), cmp.Compare(a.URL, b.URL))
	for i := 0; order == 0 && i < len(a.Posts); i++ {
		p, q := a.Posts[i], b.Posts[i]
		order = cmp.Or(cmp.Compare(len(p.Text), len(q.Text)), cmp.Compare(p.Text, q.Text), cmp.Compare(p.Author, q.Author), p.Time.Compare(q.Time))
	}
	return cmp.Or(order, cmp.Compare(a.Site, b.Site), cmp.Compare(a.Licence, b.Licence), cmp.Compare(a.File, b.File))
}

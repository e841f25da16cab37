package ingest

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Join gives a write-up as it stands after it was read again, wholly or in part: posts known before are kept, new ones added in
// their place, edited ones have their later words. Rows of a table are replaced. Known gives the identity.
func Join(known, later Thread) Thread {
	if known.Kind == KindRow || later.Kind == KindRow || len(known.Posts) == 0 {
		later.Key = cmp.Or(known.Key, later.Key)
		return later
	}
	m := matched(known.Posts, later.Posts)
	out := later
	out.Key, out.Posts = known.Key, m.merged()
	out.Page, out.Pages = lower(known.Page, later.Page), max(known.Pages, later.Pages)
	out.URL, out.Site = cmp.Or(known.URL, later.URL), cmp.Or(later.Site, known.Site)
	out.Licence, out.Language = cmp.Or(later.Licence, known.Licence), cmp.Or(later.Language, known.Language)
	if later.Title == "" || max(later.Page, 1) > max(known.Page, 1) && known.Title != "" {
		out.Title = known.Title
	}
	out.Kind = KindArticle
	if len(out.Posts) > 1 {
		out.Kind = KindThread
	}
	return out
}

// matched pairs the posts of two readings; the times of the later one are put into the time zone of the known one.
func matched(known, later []Post) *matching {
	m := matchPosts(known, later)
	if shift := m.zoneShift(); shift != 0 {
		return matchPosts(known, shifted(later, shift))
	}
	return m
}

// lower is the smaller of two page numbers, where 0 is none.
func lower(a, b int) int {
	if a == 0 || b == 0 {
		return max(a, b)
	}
	return min(a, b)
}

// zoneShift tells by how much the times of the later reading are off because the page showed them in another time zone: the same
// whole number of quarter hours for more than half of the posts whose words are the same.
func (m *matching) zoneShift() time.Duration {
	const most = 26 * time.Hour // from UTC-12 to UTC+14
	at := map[string]time.Time{}
	for _, p := range m.known {
		if len(p.Text) >= tellingText && hasClock(p.Time) {
			at[fold(p.Author)+"\x00"+p.Text] = p.Time
		}
	}
	counts := map[time.Duration]int{}
	all := 0
	var best time.Duration
	for _, p := range m.later {
		if t, ok := at[fold(p.Author)+"\x00"+p.Text]; ok && hasClock(p.Time) {
			all++
			off := p.Time.Sub(t)
			counts[off]++
			if counts[off] > counts[best] {
				best = off
			}
		}
	}
	if best == 0 || best.Abs() > most || best%(15*time.Minute) != 0 || counts[best]*2 <= all {
		return 0
	}
	return best
}

func shifted(posts []Post, by time.Duration) []Post {
	posts = slices.Clone(posts)
	for i := range posts {
		if hasClock(posts[i].Time) {
			posts[i].Time = posts[i].Time.Add(-by)
		}
	}
	return posts
}

// merged puts the posts of both readings in one order: pairs that stand in one order in both hold the frame, and what stands
// between two of them is put in by page, then by time, what was known first where neither tells.
func (m *matching) merged() []Post {
	var out []Post
	i, j := 0, 0
	upTo := func(known, later int) {
		for i < known || j < later {
			switch {
			case i < known && m.taken[i]: // stands where the later reading has it
				i++
			case j >= later || i < known && !precedes(m.later[j], m.known[i]):
				out = append(out, m.known[i])
				i++
			default:
				out = append(out, m.settled(j))
				j++
			}
		}
	}
	for _, anchor := range m.backbone() {
		upTo(m.of[anchor], anchor)
		out = append(out, m.settled(anchor))
		i, j = m.of[anchor]+1, anchor+1
	}
	upTo(len(m.known), len(m.later))
	for n := range out {
		out[n].N = n + 1
	}
	return out
}

// firstTime is the earliest time that a write-up tells, lastTime the latest; zero if it tells none.
func firstTime(t Thread) time.Time {
	var first time.Time
	for _, p := range t.Posts {
		if first.IsZero() || !p.Time.IsZero() && p.Time.Before(first) {
			first = p.Time
		}
	}
	return first
}

func lastTime(t Thread) time.Time {
	var last time.Time
	for _, p := range t.Posts {
		if p.Time.After(last) {
			last = p.Time
		}
	}
	return last
}

// precedes tells whether post a is known to stand before b.
func precedes(a, b Post) bool {
	if otherPage(a, b) {
		return a.Page < b.Page
	}
	return !a.Time.IsZero() && !b.Time.IsZero() && a.Time.Before(b.Time)
}

// settled is a post of the later reading as it is kept: with what an earlier one knew of it.
func (m *matching) settled(j int) Post {
	p := m.later[j]
	if m.of[j] < 0 {
		return p
	}
	old := m.known[m.of[j]]
	if p.Text != old.Text && veiledAlike(old, p.Text) {
		p.Text, p.Regions = old.Text, old.Regions
	}
	if p.Time.IsZero() || !hasClock(p.Time) && hasClock(old.Time) {
		p.Time = old.Time
	}
	p.Author, p.Page = cmp.Or(p.Author, old.Author), lower(old.Page, p.Page)
	return p
}

// veiledAlike tells whether a text differs from a known one only in that less of it is masked: another page of the thread may not
// show that a name in it is somebody's full name.
func veiledAlike(known Post, text string) bool {
	pieces := strings.Split(known.Text, Veil)
	if len(pieces) < 2 || !strings.HasPrefix(text, pieces[0]) {
		return false
	}
	text = text[len(pieces[0]):]
	for n, piece := range pieces[1:] {
		at := strings.Index(text, piece)
		if n == len(pieces)-2 {
			at = len(text) - len(piece)
			if at < 0 || !strings.HasSuffix(text, piece) {
				return false
			}
		}
		if at < 0 || at > maxVeiled {
			return false
		}
		text = text[at+len(piece):]
	}
	return true
}

// maxVeiled is the length of the longest piece of personal data that one veil stands for.
const maxVeiled = 120

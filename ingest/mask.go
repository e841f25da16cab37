package ingest

import (
	"cmp"
	"slices"
	"strings"

	"ruledout/kb"
)

// Veil is what stands in place of personal data. It holds no letter, no digit and no length of what it replaces.
const Veil = "▮▮▮"

// The names of masked regions: what stood there.
const (
	MaskedEmail   = "email"
	MaskedPhone   = "phone"
	MaskedAddress = "address"
	MaskedPlate   = "plate"
	MaskedVIN     = "vin"
	MaskedName    = "name"
)

// find is a piece of personal data in a text.
type find struct {
	span
	what string
	vin  *kb.VINFacts
}

// Mask replaces personal data in a text and gives the places where it stood: e-mail addresses, phone numbers, street
// addresses, number plates, vehicle identification numbers and full names of private people. The offsets index the
// masked text. Masking a masked text changes nothing.
func Mask(text string) (string, []Region) {
	p := maskPassage(passage{text: text}, 0)
	return p.text, p.regions
}

// maskPassage masks a passage and moves its regions along. It looks again after each change, since what is left beside a
// masked place can now be read as personal data too. No model year of a VIN lies after latest; 0 sets no such limit.
func maskPassage(p passage, latest int) passage {
	for {
		finds := personalData(p.text, latest)
		if len(finds) == 0 {
			return p
		}
		edits := make([]edit, len(finds))
		for i, f := range finds {
			edits[i] = edit{f.start, f.end, Veil}
		}
		p = p.rewrite(edits)
		shift := 0
		for _, f := range finds {
			at := f.start + shift
			p.regions = append(p.regions, Region{Start: at, End: at + len(Veil), Kind: RegionMasked, Name: f.what, VIN: f.vin})
			shift += len(Veil) - (f.end - f.start)
		}
		sortRegions(p.regions)
	}
}

// personalData finds all personal data, sorted and without overlaps: what overlaps is one find of the kind that was
// looked for first.
func personalData(text string, latest int) []find {
	all := slices.Concat(findEmails(text), findVINs(text, latest), findPhones(text), findAddresses(text), findPlates(text), findNames(text))
	slices.SortStableFunc(all, func(a, b find) int { return cmp.Compare(a.start, b.start) })
	var out []find
	for _, f := range all {
		last := len(out) - 1
		switch {
		case f.start >= f.end || !strings.ContainsFunc(text[f.start:f.end], isAlnum):
		case last >= 0 && f.start < out[last].end:
			out[last].end = max(out[last].end, f.end)
		default:
			out = append(out, f)
		}
	}
	return out
}

// masker masks the posts of one thread. It knows what the thread tells: an author's full name is masked wherever it is
// repeated, and two capitalised words below a post are somebody's name unless the thread talks of them.
type masker struct {
	names map[string]string // full display name to what is shown of it
	order []string
	talk  string // what the posts say, without signatures and closing lines
}

func newMasker(title string, posts []draftPost) *masker {
	m := &masker{names: map[string]string{}}
	var talk strings.Builder
	talk.WriteString(title)
	for _, p := range posts {
		talk.WriteString(spoken(p.body))
		shown := displayName(p.author)
		if shown == p.author && signs(posts, p.author) {
			given, _, _ := strings.Cut(p.author, " ")
			shown = given + " " + Veil
		}
		if shown != p.author && m.names[p.author] == "" {
			m.names[p.author] = shown
			m.order = append(m.order, p.author)
		}
	}
	m.talk = talk.String()
	slices.SortStableFunc(m.order, func(a, b string) int { return cmp.Compare(len(b), len(a)) })
	return m
}

// signs tells whether an author's display name is a full name that somebody signs with, on a line of its own: then it is no handle,
// whether or not the first name is a common one.
func signs(posts []draftPost, name string) bool {
	if strings.Count(name, " ") == 0 || closingName.FindString(name) != name || !couldBeName(name) {
		return false
	}
	return slices.ContainsFunc(posts, func(p draftPost) bool {
		text := "\n" + p.body.text + "\n"
		return strings.Contains(text, "\n"+name+"\n") || strings.Contains(text, "\n"+name+",")
	})
}

// displayName is what is shown of an author's name: a handle as it is, of a first and last name the first name.
func displayName(name string) string {
	given, ok := givenOf(name)
	if ok {
		return given + " " + Veil
	}
	masked, _ := Mask(name)
	return masked
}

func (m *masker) author(name string) string {
	if shown := m.names[name]; shown != "" {
		return shown
	}
	return displayName(name)
}

func (m *masker) line(s string) string { return m.passage(passage{text: s}, 0).text }

func (m *masker) passage(p passage, latest int) passage {
	for _, name := range m.order {
		p = p.veiled(m.repeats(p.text, name), MaskedName)
	}
	p = p.veiled(m.closingNames(p), MaskedName)
	p = maskPassage(p, latest)
	for i := range p.regions {
		r := &p.regions[i]
		switch {
		case r.Kind == RegionQuote && r.Author != "":
			r.Author = m.author(r.Author)
		case r.Kind == RegionCell && r.Name != "":
			r.Name, _ = Mask(r.Name)
		}
	}
	return p
}

// repeats finds the last name of an author where a text repeats the whole name.
func (m *masker) repeats(text, name string) []edit {
	kept := strings.TrimSuffix(m.names[name], Veil)
	var edits []edit
	for at := 0; strings.HasPrefix(name, kept); {
		i := strings.Index(text[at:], name)
		if i < 0 {
			break
		}
		at += i + len(name)
		edits = append(edits, edit{at - len(name) + len(kept), at, Veil})
	}
	return edits
}

// closingNames finds a full name that stands alone, or before a comma, at the head of a signature or in a post's last line.
func (m *masker) closingNames(p passage) []edit {
	starts := []int{closingStart(p)}
	for _, r := range p.regions {
		if r.Kind == RegionSignature {
			starts = append(starts, r.Start)
		}
	}
	slices.Sort(starts)
	var edits []edit
	for _, at := range slices.Compact(starts) {
		at += len(p.text[at:]) - len(strings.TrimLeft(p.text[at:], "-–— "))
		name := closingName.FindStringSubmatch(p.text[at:])
		if at == 0 || name == nil || !couldBeName(name[1]) {
			continue
		}
		words := strings.Fields(name[1])
		if !strings.Contains(m.talk, strings.TrimSuffix(words[len(words)-1], "s")) {
			edits = append(edits, edit{at, at + len(name[1]), Veil})
		}
	}
	return edits
}

// spoken is a post's text without its closing; a post of one line has none.
func spoken(p passage) string {
	if end := closingStart(p); end > 0 {
		return "\n" + p.text[:end]
	}
	return "\n" + p.text
}

// closingStart is where a post's signature or last line begins.
func closingStart(p passage) int {
	end := len(p.text)
	for _, r := range p.regions {
		if r.Kind == RegionSignature {
			end = min(end, r.Start)
		}
	}
	if end < len(p.text) {
		return end
	}
	return strings.LastIndexByte(p.text, '\n') + 1
}

// veiled masks pieces of a passage.
func (p passage) veiled(edits []edit, what string) passage {
	p = p.rewrite(edits)
	shift := 0
	for _, e := range edits {
		p.regions = append(p.regions, Region{Start: e.start + shift, End: e.start + shift + len(Veil), Kind: RegionMasked, Name: what})
		shift += len(Veil) - (e.end - e.start)
	}
	sortRegions(p.regions)
	return p
}

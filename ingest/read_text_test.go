package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
)

func TestReadPlainPosts(t *testing.T) {
	want := []string{"quill_9: Runs dry after ten minutes, E6.", "brassnut: Foot valve. Always.", "quill_9: Valve was stuck, new one in."}
	tests := map[string]string{
		"name, rank and counters above the date": "Lantern Board\nHome   Forums   Log In\n\nPump runs dry\n\nquill_9\nNew Member\nJoined: Oct 2018\nMessages: 3\nMay 3, 2020 #1\n\nRuns dry after ten minutes, E6.\n\nLike   Reply   Share\n\n" +
			"brassnut\nWell-Known Member\nMessages: 4,871\nMay 3, 2020 #2\n\nFoot valve. Always.\n\nLike x3   Reply   Share\n\n[ Sponsored: HOSES NOW $19 - LEARN MORE ]\n\nquill_9\nNew Member\nMessages: 3\nMay 10, 2020 #3\n\nValve was stuck, new one in.\n\nLike   Reply   Share\n\n(You must log in before you can reply.)\nSimilar Threads\n  pump hums only      Replies: 12\n",
		"name and date on one line": "Lantern Board » Water » Pump runs dry\nPump runs dry\n\nquill_9 » Sun 3 May 2020 06:51\nRuns dry after ten minutes, E6.\n\nbrassnut » Sun 3 May 2020 07:20\nFoot valve. Always.\n\nquill_9 » Sun 10 May 2020 08:02\nValve was stuck, new one in.\n",
		"posted by":                 "Pump runs dry\n\nPosted by quill_9 on 3 May 2020 at 06:51\nRuns dry after ten minutes, E6.\n\nPosted by brassnut on 3 May 2020 at 07:20\nFoot valve. Always.\n\nPosted by quill_9 on 10 May 2020 at 08:02\nValve was stuck, new one in.\n",
		"numbered, age of the post": "Pump runs dry\n\n#1 quill_9 — 12 days ago\nRuns dry after ten minutes, E6.\n\n#2 brassnut — 12 days ago\nFoot valve. Always.\n\n#3 quill_9 — 2 days ago\nValve was stuck, new one in.\n",
		"topic between name and date": "Pump Den\nBoard index < Water\nPost Reply    Search this topic...    3 posts  Page 1 of 1\n\nquill_9\nPosts: 18\nJoined: Jun 2019\n\nPump runs dry\nSun May 03, 2020 7:41 pm\n\nRuns dry after ten minutes, E6.\n\nTop\n\n" +
			"brassnut\nPosts: 3302\n\nRe: Pump runs dry\nSun May 03, 2020 8:15 pm\n\nFoot valve. Always.\n\nTop\n\nAdvertisement\n>>> Hoses from 19.99 <<<\nHide ads\n\nquill_9\nPosts: 18\n\nRe: Pump runs dry\nSun May 10, 2020 6:30 pm\n\nValve was stuck, new one in.\n\nTop\n\nReturn to \"Water\"\nWho is online: 4 members, 12 guests\n",
		"labelled": "Pump runs dry\n\n----------\nPosted by: quill_9 (user)\nDate: 03.05.2020 17:20\n\nRuns dry after ten minutes, E6.\n----------\nPosted by: brassnut (helper)\nDate: 03.05.2020 18:20\n\nFoot valve. Always.\n----------\nPosted by: quill_9 (user)\nDate: 10.05.2020 17:20\n\nValve was stuck, new one in.\n",
	}
	for name, data := range tests {
		t.Run(name, func(t *testing.T) {
			thread := readOne(t, "pasted.txt", data)
			assert.Equal(t, want, shown(thread))
			assert.Equal(t, "Pump runs dry", thread.Title)
		})
	}
}

// People go by words that stand for a role elsewhere; a date right beside tells that they are names here.
func TestReadPostsOfPeopleNamedByARole(t *testing.T) {
	forms := map[string]string{
		"name above the date":         "{a}\n3 May 2020 #1\n{1}\n\n{b}\n3 May 2020 #2\n{2}\n\n{a}\n10 May 2020 #3\n{3}\n",
		"blank lines about the date":  "{a}\n3 May 2020, 06:51\n\n{1}\n\n{b}\n3 May 2020, 07:20\n\n{2}\n\n{a}\n10 May 2020, 08:02\n\n{3}\n",
		"name, counters and date":     "{a}\nJoined: Oct 2018\nMessages: 3\nMay 3, 2020 #1\n\n{1}\n\n{b}\nMessages: 4,871\nMay 3, 2020 #2\n\n{2}\n\n{a}\nMessages: 3\nMay 10, 2020 #3\n\n{3}\n",
		"name and date on one line":   "{a} » Sun 3 May 2020 06:51\n{1}\n\n{b} » Sun 3 May 2020 07:20\n{2}\n\n{a} » Sun 10 May 2020 08:02\n{3}\n",
		"posted by":                   "Posted by {a} on 3 May 2020 at 06:51\n{1}\n\nPosted by {b} on 3 May 2020 at 07:20\n{2}\n\nPosted by {a} on 10 May 2020 at 08:02\n{3}\n",
		"labelled":                    "Posted by: {a}\nDate: 03.05.2020 17:20\n\n{1}\n----------\nPosted by: {b}\nDate: 03.05.2020 18:20\n\n{2}\n----------\nPosted by: {a}\nDate: 10.05.2020 17:20\n\n{3}\n",
		"numbered":                    "#1 {a} — 12 days ago\n{1}\n\n#2 {b} — 12 days ago\n{2}\n\n#3 {a} — 2 days ago\n{3}\n",
		"date in front":               "3 May 2020, 06:51 by {a}\n{1}\n\n3 May 2020, 07:20 by {b}\n{2}\n\n10 May 2020, 08:02 by {a}\n{3}\n",
		"headings (Markdown)":         "### {a} · 2020-05-03 18:11\n\n{1}\n\n### {b} · 2020-05-03 19:00\n\n{2}\n\n### {a} · 2020-05-10 08:00\n\n{3}\n",
		"bold names (Markdown)":       "**{a}** · 3 May 2020, 18:11\n\n{1}\n\n**{b}** · 3 May 2020, 19:00\n\n{2}\n\n**{a}** · 10 May 2020, 08:00\n\n{3}\n",
		"bold and spoken (Markdown)":  "**{a}** (3 May 2020): {1}\n\n**{b}** (3 May 2020): {2}\n\n**{a}** (10 May 2020): {3}\n",
		"date in front and a heading": "#### 2020-05-03 18:11 by {a}\n\n{1}\n\n#### 2020-05-03 19:11 by {b}\n\n{2}\n\n#### 2020-05-10 18:11 by {a}\n\n{3}\n",
	}
	for form, text := range forms {
		for _, names := range [][2]string{{"asker", "helper"}, {"guest", "admin"}, {"Newbie", "Moderator"}, {"user", "veteran"}, {"quill_9", "vendor"}} {
			t.Run(form+", "+names[0], func(t *testing.T) {
				text := strings.NewReplacer("{a}", names[0], "{b}", names[1], "{1}", "Runs dry after ten minutes, E6.", "{2}", "Foot valve. Always.", "{3}", "Valve was stuck, new one in.").Replace(text)
				name := "pasted.txt"
				if strings.Contains(form, "arkdown") || strings.Contains(form, "heading") {
					name = "pasted.md"
				}
				assert.Equal(t, []string{names[0] + ": Runs dry after ten minutes, E6.", names[1] + ": Foot valve. Always.", names[0] + ": Valve was stuck, new one in."}, shown(readOne(t, name, text)))
			})
		}
	}
}

func TestReadPlainArticle(t *testing.T) {
	thread := readOne(t, "note.txt", "Pump runs dry\n\nReplaced the foot valve on 3 May 2020 because it stuck. It has run since.\nThen I checked the strainer, nothing in it.\n")
	require.Len(t, thread.Posts, 1)
	assert.Equal(t, ingest.KindArticle, thread.Kind)
	assert.Empty(t, thread.Posts[0].Author)
	assert.Contains(t, thread.Posts[0].Text, "Replaced the foot valve on 3 May 2020")
}

func TestReadPlainQuotes(t *testing.T) {
	head := "quill_9\n3 May 2020 #1\nFlow is 11 l/min\nand E6 comes.\n\nReply  Quote\n\n"
	tests := map[string]struct{ body, quoted, rest string }{
		"block with a label":    {"Quote:\nquill_9 said:\nFlow is 11 l/min\n\nToo low.", "quill_9 said: / Flow is 11 l/min", "Too low."},
		"label and name":        {"Quote: quill_9 said\nFlow is 11 l/min\n\nToo low.", "quill_9 said / Flow is 11 l/min", "Too low."},
		"marked lines":          {"quill_9 wrote:\n> Flow is 11 l/min\n> and E6 comes.\n\nToo low.", "quill_9 wrote: / Flow is 11 l/min / and E6 comes.", "Too low."},
		"marked without a name": {"> Flow is 11 l/min\n\nToo low.", "Flow is 11 l/min", "Too low."},
		"told by its words":     {"quill_9: Flow is 11 l/min\n\nToo low.", "quill_9: Flow is 11 l/min", "Too low."},
		"original post":         {"Originally Posted by quill_9\nFlow is 11 l/min\nToo low.", "Originally Posted by quill_9 / Flow is 11 l/min", "Too low."},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			posts := readOne(t, "pasted.txt", head+"brassnut\n4 May 2020 #2\n"+tt.body+"\n\nReply  Quote\n").Posts
			require.Len(t, posts, 2)
			require.Equal(t, []string{tt.quoted}, regionsOf(posts[1], ingest.RegionQuote))
			assert.Equal(t, "quill_9", posts[1].Regions[0].Author)
			assert.Equal(t, tt.rest, strings.TrimSpace(posts[1].Text[posts[1].Regions[0].End:]))
		})
	}
}

func TestReadPlainNotAQuote(t *testing.T) {
	posts := readOne(t, "pasted.txt", "quill_9\n3 May 2020 #1\nFlow is 11 l/min\n\nReply  Quote\n\nbrassnut\n4 May 2020 #2\nquill_9: check the strainer and the pump speed\n\nReply  Quote\n").Posts
	require.Len(t, posts, 2)
	assert.Empty(t, posts[1].Regions, "addressing somebody is no quote")
}

func TestReadMarkdownThreads(t *testing.T) {
	want := []string{"quill_9: Runs dry after ten minutes, E6.", "brassnut: Foot valve. Always.", "quill_9: Valve was stuck. / New one in."}
	tests := map[string]string{
		"headings":          "# Pump runs dry\n\n*Water > Pumps. 2 replies.*\n\n---\n\n### quill_9 · 2020-05-03 18:11\n\nRuns dry after ten minutes, E6.\n\n### brassnut · 2020-05-03 19:00\n\nFoot valve. Always.\n\n### quill_9 · 2020-05-10 08:00\n\nValve was stuck.\n\nNew one in.\n\n---\n*2 people found this helpful*\n",
		"bold names":        "# Pump runs dry\n\n**quill_9** · 3 May 2020, 18:11\n\nRuns dry after ten minutes, E6.\n\n---\n\n**brassnut** · 3 May 2020, 19:00\n\nFoot valve. Always.\n\n---\n\n**quill_9** · 10 May 2020, 08:00\n\nValve was stuck.\n\nNew one in.\n\n---\n",
		"text on that line": "# Pump runs dry\n\n**quill_9** (3 May 2020): Runs dry after ten minutes, E6.\n\n**brassnut** (3 May 2020): Foot valve. Always.\n\n**quill_9** (10 May 2020): Valve was stuck.\n\nNew one in.\n",
		"wrote":             "Topic: Pump runs dry\n\n**quill_9** wrote on May 3, 2020:\n\nRuns dry after ten minutes, E6.\n\n**brassnut** wrote on May 3, 2020:\n\nFoot valve. Always.\n\n**quill_9** wrote on May 10, 2020:\n\nValve was stuck.\n\nNew one in.\n",
		"wrote, no dates":   "# Pump runs dry\n\n**quill_9** wrote:\n\nRuns dry after ten minutes, E6.\n\n**brassnut** wrote:\n\nFoot valve. Always.\n\n**quill_9** wrote:\n\nValve was stuck.\n\nNew one in.\n",
		"name with a mark":  "# Pump runs dry\n\n### Post 1 by @quill_9 (May 3, 2020 at 05:31 AM)\n\nRuns dry after ten minutes, E6.\n\n### Post 2 by @brassnut (May 3, 2020 at 06:31 AM)\n\nFoot valve. Always.\n\n### Post 3 by @quill_9 (May 10, 2020 at 05:31 AM)\n\nValve was stuck.\n\nNew one in.\n",
		"date in front":     "# Pump runs dry\n\n#### 2020-05-03 18:11 by quill_9\n\nRuns dry after ten minutes, E6.\n\n#### 2020-05-03 19:11 by brassnut\n\nFoot valve. Always.\n\n#### 2020-05-10 18:11 by quill_9\n\nValve was stuck.\n\nNew one in.\n",
	}
	for name, data := range tests {
		t.Run(name, func(t *testing.T) {
			thread := readOne(t, "thread.md", data)
			assert.Equal(t, want, shown(thread))
			assert.Equal(t, "Pump runs dry", thread.Title)
		})
	}
}

func TestReadMarkdownArticle(t *testing.T) {
	body := "# Heater blows cold\n\n| Field | Entry |\n|---|---|\n| Odometer | 81,200 km |\n| Posted by | quill_9 |\n\n## Tests\n\n1. **Coil:** 84 ohm. Good.\n2. Fuse: open.\n\n> It is always the relay.\n\n```\nP1B77 stored\n```\n\n## Result\n\n<p style=\"display:none\">gone</p>\n\nFixed on 3 May 2024, <span hidden>gone</span>warm since.\n"
	tests := map[string]struct {
		data, author string
		year         int
	}{
		"front matter":          {"---\ntitle: Heater blows cold\nauthor: quill_9\ndate: 2024-05-04\nurl: https://lantern.example/n/7\nlicence: CC0-1.0\n---\n\n" + body, "quill_9", 2024},
		"front matter in TOML":  {"+++\ntitle = \"Heater blows cold\"\nauthor = \"quill_9\"\ndate = 2024-05-04\n+++\n\n" + body, "quill_9", 2024},
		"row of a table":        {body, "quill_9", 1},
		"line below the title":  {strings.Replace(body, "\n\n|", "\n\nby **brassnut** on 17/10/2020\n\n|", 1), "brassnut", 2020},
		"line without date":     {strings.Replace(body, "\n\n|", "\n\n*Written up for the notebook by **brassnut**. Use the form.*\n\n|", 1), "brassnut", 1},
		"date that can be read": {strings.Replace(body, "\n\n|", "\n\nposted by *brassnut* on 11/05/2018 in **Vans > Heating**\n\n|", 1), "brassnut", 1},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			thread := readOne(t, "note.md", tt.data)
			require.Len(t, thread.Posts, 1)
			post := thread.Posts[0]
			assert.Equal(t, "Heater blows cold", thread.Title)
			assert.Equal(t, tt.author, post.Author)
			assert.Equal(t, tt.year, post.Time.Year(), "an ambiguous day and month is no date")
			assert.Equal(t, []string{"Tests", "Result"}, regionsOf(post, ingest.RegionHeading))
			assert.Equal(t, []string{"Coil: 84 ohm. Good.", "Fuse: open."}, regionsOf(post, ingest.RegionItem))
			assert.Equal(t, []string{"It is always the relay."}, regionsOf(post, ingest.RegionQuote))
			assert.Equal(t, []string{"P1B77 stored"}, regionsOf(post, ingest.RegionCode))
			assert.Contains(t, regionsOf(post, ingest.RegionCell), "Odometer | 81,200 km")
			assert.NotContains(t, post.Text, "gone")
			assert.Contains(t, post.Text, "warm since")
		})
	}
}

func TestReadMarkdownFrontMatter(t *testing.T) {
	thread := readOne(t, "note.md", "---\ntitle: Heater\nauthor: quill_9\nurl: https://lantern.example/n/7\nlicense: CC0-1.0\nsite: Lantern\n---\n\nBlows cold.\n")
	assert.Equal(t, "https://lantern.example/n/7", thread.Key)
	assert.Equal(t, "CC0-1.0", thread.Licence)
	assert.Equal(t, "Lantern", thread.Site)
	_, err := ingest.Read(ingest.File{Name: "note.md", Data: []byte("---\ntitle: [open\n---\n\ntext\n")}, ingest.Options{})
	assert.ErrorContains(t, err, "note.md:1: broken front matter")
}

func TestReadMarkdownBombs(t *testing.T) {
	_, err := ingest.Read(ingest.File{Name: "n.md", Data: []byte("fine\n\n" + strings.Repeat("*a_", 5000))}, ingest.Options{})
	assert.ErrorContains(t, err, "n.md:3: more than 5000 marks")
	_, err = ingest.Read(ingest.File{Name: "n.md", Data: []byte(strings.Repeat("> ", 300) + "deep\n")}, ingest.Options{})
	assert.ErrorContains(t, err, "n.md: quotes nested more than 200 deep")
}

func FuzzReadPlain(f *testing.F) {
	f.Add("quill\n3 May 2020 #1\nText.\n\nReply Quote\n\nnut\n4 May 2020 #2\nQuote:\nquill said:\nText.\n\nMore.\n")
	f.Add("> a\n>> b\nOn 3 May X wrote:\n> c\n-- \nsig\n___\n")
	f.Add("Posted by: x (user)\nDate: 22.05.2023 17:20\n\n1) a\n 2) b\nLast edited by x: 3 May 2020")
	f.Fuzz(func(t *testing.T, data string) {
		threads, err := ingest.Read(ingest.File{Name: "f.txt", Data: []byte(data)}, ingest.Options{})
		if err == nil {
			checkThreads(t, threads)
		}
	})
}

func FuzzReadMarkdown(f *testing.F) {
	f.Add("# T\n\n**a** · 3 May 2020\n\nx\n\n---\n\n**b** · 4 May 2020\n\n> x\n\ny\n")
	f.Add("---\ntitle: x\ndate: 2020-01-01\n---\n\n| a | b |\n|---|---|\n| c | d |\n")
	f.Add("### Post 1 by @x (May 3, 2020)\n\n<div hidden>\n\n* a\n  * b\n\n</div>\n\n--  \nX Y, z\n")
	f.Fuzz(func(t *testing.T, data string) {
		threads, err := ingest.Read(ingest.File{Name: "f.md", Data: []byte(data)}, ingest.Options{})
		if err == nil {
			checkThreads(t, threads)
		}
	})
}

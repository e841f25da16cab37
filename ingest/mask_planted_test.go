package ingest_test

import (
	"bufio"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/demo"
)

// planted is personal data that no text may keep wherever it stands. The number is the example of a right check digit that circulates
// with ISO 3779 (49 CFR 565 calculates it); mail domains end in .example (RFC 2606).
var planted = []string{"quillfeather@lantern.example", "quillfeather%40lantern.example", "quillfeather (at) lantern (dot) example", "quillfeather at lantern dot example",
	"quillfeather[at]lantern.example", "1M8GDM9AXKP042788"}

// telling are parts of it that give it away.
var telling = []string{"quillfeather", "1M8GDM9AXKP042788", "1m8gdm9axkp042788"}

// plant puts one of the pieces between the characters of a text, with blanks around it.
func plant(text string, at, which uint16) string {
	i := int(at) % (len(text) + 1)
	for i > 0 && i < len(text) && !utf8.RuneStart(text[i]) {
		i--
	}
	return text[:i] + " " + planted[int(which)%len(planted)] + " " + text[i:]
}

func requireNoneTold(t testing.TB, what any) {
	t.Helper()
	data, err := json.Marshal(what)
	require.NoError(t, err)
	for _, word := range telling {
		require.NotContains(t, string(data), word)
	}
}

func FuzzMaskPlanted(f *testing.F) {
	for i, seed := range []string{"", "ring me", "VIN 1M8 is a joke, mail", "a.b-c@d", "tel. 555", "x\u200b\u00ad_", "reg QX14 ZPT Mill Lane 4"} {
		f.Add(seed, uint16(i*3), uint16(i))
	}
	f.Fuzz(func(t *testing.T, text string, at, which uint16) {
		if containsAny(text, telling) {
			return
		}
		text = plant(text, at, which)
		checkMasked(t, text)
		masked, _ := ingest.Mask(text)
		requireNoneTold(t, masked)
	})
}

func containsAny(text string, words []string) bool {
	for _, w := range words {
		if strings.Contains(strings.ToLower(text), strings.ToLower(w)) {
			return true
		}
	}
	return false
}

// FuzzReadPlanted holds that no reader lets planted personal data through, in texts, titles, authors or addresses, and no draft cites it.
func FuzzReadPlanted(f *testing.F) {
	names := []string{"f.txt", "f.md", "f.html", "f.mbox", "f.csv"}
	for i, seed := range []string{
		"quill\n3 May 2020 #1\nE21 on my TG 45.\n\nnut\n4 May 2020 #2\nNew relay, fixed.\n",
		"---\ntitle: x\nsource: https://a.example/t\n---\n\n**a** · 3 May 2020\n\nP0420 stored\n\n---\n\n**b** · 4 May 2020\n\n> P0420\n\ny\n",
		`<title>t</title><div><b>quill</b> <i>3 May 2020</i><p>text one here</p></div><div><b>nut</b> <i>4 May 2020</i><blockquote>text one</blockquote>two</div>`,
		mailbox, "p;a\nno heat;7\n",
	} {
		f.Add(uint8(i), seed, uint16(len(seed)-3), uint16(i))
		f.Add(uint8(i), seed, uint16(len(seed)/2), uint16(i+1))
	}
	f.Fuzz(func(t *testing.T, format uint8, text string, at, which uint16) {
		if containsAny(text, telling) || containsAny(text, []string{"=", "base64", "quoted-printable", "&"}) && int(format)%len(names) >= 2 {
			return // in another spelling of the same bytes the planted text would be another
		}
		name := names[int(format)%len(names)]
		threads, err := ingest.Read(ingest.File{Name: name, Data: []byte(plant(text, at, which))}, ingest.Options{Columns: map[string]string{"found": "p", "id": "a"}})
		if err != nil {
			return
		}
		for _, th := range threads {
			th.File = ""
			requireNoneTold(t, th)
			requireNoneTold(t, extractor(t).Extract(th))
		}
	})
}

func TestAddressOfAPageHoldsNoPersonalData(t *testing.T) {
	for _, address := range []string{"https://lantern.example/search?by=quillfeather%40lantern.example&t=7", "https://lantern.example/quillfeather@lantern.example/t/7",
		"https://lantern.example/t/1M8GDM9AXKP042788-noise"} {
		th := readOne(t, "n.md", "---\ntitle: noise\nurl: "+address+"\n---\n\nIt rattles.\n")
		requireNoneTold(t, th)
		assert.Contains(t, th.URL, "https://lantern.example/")
	}
}

// TestMaskedInTheDemoIsPersonal holds that nothing else of the demo's write-ups is masked than what its list of personal data names.
func TestMaskedInTheDemoIsPersonal(t *testing.T) {
	list, err := os.Open(filepath.Join("..", "internal", "demo", "testdata", "personal.jsonl"))
	require.NoError(t, err)
	defer list.Close()
	personal := map[string]int{} // by file: what may be masked there
	for lines := bufio.NewScanner(list); lines.Scan(); {
		var item struct{ File, Kind, Text string }
		require.NoError(t, json.Unmarshal(lines.Bytes(), &item))
		personal[item.File+" "+item.Kind]++
	}
	files, err := fs.Glob(demo.Files(), "*")
	require.NoError(t, err)
	for _, name := range files {
		data, err := fs.ReadFile(demo.Files(), name)
		require.NoError(t, err)
		threads, err := ingest.Read(ingest.File{Name: name, Data: data}, ingest.Options{})
		if err != nil {
			continue // a table, which is read by columns that are named
		}
		for _, th := range threads {
			assert.NotContains(t, th.Title, ingest.Veil, name)
			for _, p := range th.Posts {
				for _, r := range p.Regions {
					if r.Kind == ingest.RegionMasked {
						assert.Positive(t, personal[name+" "+r.Name], "%s: a %s is masked in %q", name, r.Name, p.Text)
					}
				}
			}
		}
	}
}

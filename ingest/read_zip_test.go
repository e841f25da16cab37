package ingest_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/kb"
)

// entry is a file to pack; header may change how it is packed.
type entry struct {
	name, text string
	header     func(*zip.FileHeader)
}

func packed(t testing.TB, entries ...entry) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range entries {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		if e.header == nil {
			w, err := z.CreateHeader(h)
			require.NoError(t, err)
			_, err = io.WriteString(w, e.text)
			require.NoError(t, err)
			continue
		}
		h.Method = zip.Store
		h.CRC32, h.CompressedSize64, h.UncompressedSize64 = crc32.ChecksumIEEE([]byte(e.text)), uint64(len(e.text)), uint64(len(e.text))
		e.header(h)
		w, err := z.CreateRaw(h)
		require.NoError(t, err)
		_, err = io.WriteString(w, e.text)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return out.Bytes()
}

// unpacked gives the names of what was read, of what failed and of what was passed over.
func unpacked(data []byte, opt ingest.Options) (read []string, bad, skipped []string) {
	for f, err := range ingest.Unpack("a.zip", bytes.NewReader(data), int64(len(data)), opt) {
		var over *ingest.Skipped
		switch {
		case err == nil:
			read = append(read, f.Name)
		case errors.As(err, &over):
			skipped = append(skipped, err.Error())
		default:
			bad = append(bad, err.Error())
		}
	}
	return read, bad, skipped
}

// Names inside an archive are labels: whatever they try, they stay inside it. Encryption, methods and the marks of names as in
// PKWARE's APPNOTE 6.3.10, sections 4.4.4, 4.4.5 and appendix D.
func TestUnpackNames(t *testing.T) {
	tests := []struct{ name, want string }{
		{"a.md", "a.md"},
		{"dir/a.md", "dir/a.md"},
		{"/etc/a.md", "etc/a.md"},
		{"../../a.md", "a.md"},
		{"dir/../../../a.md", "a.md"},
		{`..\..\dir\a.md`, "dir/a.md"},
		{`C:\dir\a.md`, "dir/a.md"},
		{"dir/\u202egnp.a.md", "dir/gnp.a.md"},
		{"./dir//a.md", "dir/a.md"},
		{"M\x81ll.md", "Müll.md"}, // code page 437
		{"Müll.md", "Müll.md"},
	}
	for _, tt := range tests {
		read, bad, _ := unpacked(packed(t, entry{name: tt.name, text: "x"}), ingest.Options{})
		assert.Empty(t, bad)
		assert.Equal(t, []string{"a.zip:" + tt.want}, read, tt.name)
	}
	read, _, _ := unpacked(packed(t, entry{name: "a.md", text: "x"}, entry{name: "../a.md", text: "y"}), ingest.Options{})
	assert.Equal(t, []string{"a.zip:a.md", "a.zip:a.md (2)"}, read)
}

func TestUnpackPassesOverAndRefuses(t *testing.T) {
	link := func(h *zip.FileHeader) { h.SetMode(os.ModeSymlink | 0o777) }
	data := packed(t,
		entry{name: "dir/"}, entry{name: ".hidden/a.md", text: "x"}, entry{name: "__MACOSX/a.md", text: "x"},
		entry{name: "good.md", text: "It is cold."}, entry{name: "style.css", text: "x"}, entry{name: "a.png", text: "x"}, entry{name: "b.png", text: "x"},
		entry{name: "inner.zip", text: "PK\x03\x04"}, entry{"secret.md", "x", func(h *zip.FileHeader) { h.Flags |= 1 }},
		entry{"odd.md", "x", func(h *zip.FileHeader) { h.Method = 12 }}, entry{"link.md", "/etc/passwd", link},
		entry{"broken.md", "x", func(h *zip.FileHeader) { h.CRC32++ }},
	)
	read, bad, skipped := unpacked(data, ingest.Options{})
	assert.Equal(t, []string{"a.zip:good.md"}, read)
	assert.Equal(t, []string{"a.zip:link.md: passed over: a link or a device, no file", "a.zip: passed over: no write-ups by their names: 1 .css, 2 .png"}, skipped)
	require.Len(t, bad, 4)
	assert.Contains(t, bad[0], "a.zip:inner.zip: an archive inside an archive")
	assert.Contains(t, bad[1], "a.zip:secret.md: encrypted")
	assert.Contains(t, bad[2], "a.zip:odd.md: packed by a method that is not known (number 12)")
	assert.Contains(t, bad[3], "a.zip:broken.md: broken in the archive")
}

func TestUnpackLimits(t *testing.T) {
	zeros := strings.Repeat("0", 4<<20)
	claims := func(size uint64) func(*zip.FileHeader) { // a size that is not the real one
		return func(h *zip.FileHeader) { h.UncompressedSize64 = size }
	}
	var many []entry
	for i := range 30 {
		many = append(many, entry{name: fmt.Sprintf("%d.md", i), text: fmt.Sprintf("text %d %s", i, strings.Repeat("word ", i))})
	}
	tests := []struct {
		name    string
		data    []byte
		opt     ingest.Options
		read    int
		message string
	}{
		{"one file too big", packed(t, entry{name: "a.md", text: strings.Repeat("x", 300)}, many[1]), ingest.Options{MaxBytes: 200}, 1, "a.zip:a.md: too big"},
		{"swells", packed(t, entry{name: "a.md", text: zeros}, many[1]), ingest.Options{}, 1, "a.zip:a.md: unpacks to more than 200 times its size"},
		{"all together too big", packed(t, many...), ingest.Options{MaxUnpacked: 500}, 13, "a.zip: unpacks to more than 500 bytes"},
		{"too many", packed(t, many...), ingest.Options{MaxEntries: 29}, 0, "a.zip: too many files in it: the limit is 29"},
		{"claims less than it holds", packed(t, entry{"a.md", "some words", claims(3)}), ingest.Options{}, 0, "a.zip:a.md: broken in the archive"},
		{"cut short", packed(t, many...)[:200], ingest.Options{}, 0, "a.zip: broken archive"},
		{"no archive", []byte("PK\x03\x04 and no more"), ingest.Options{}, 0, "a.zip: broken archive"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			read, bad, _ := unpacked(tt.data, tt.opt)
			assert.Len(t, read, tt.read)
			require.NotEmpty(t, bad)
			assert.Contains(t, bad[len(bad)-1], tt.message)
		})
	}
}

// The directory alone can be huge: it is not read to its end.
func TestUnpackRefusesAHugeDirectory(t *testing.T) {
	var list []entry
	for i := range 300 {
		list = append(list, entry{name: strings.Repeat("n", 60_000) + fmt.Sprint(i), text: "x"})
	}
	read, bad, _ := unpacked(packed(t, list...), ingest.Options{})
	assert.Empty(t, read)
	require.Len(t, bad, 1)
	assert.Contains(t, bad[0], "too many files")
}

// FuzzUnpack holds the law of archives: no panic, names stay inside, limits hold, an error names its file and is of the input's kind.
func FuzzUnpack(f *testing.F) {
	f.Add(packed(f, entry{name: "a.md", text: "x"}, entry{name: "../b.html", text: "<p>x"}))
	f.Add(packed(f, entry{"c.md", "x", func(h *zip.FileHeader) { h.Flags |= 1 }}, entry{name: `..\d.txt`, text: strings.Repeat("0", 5000)}))
	f.Add([]byte("PK\x05\x06"))
	f.Fuzz(func(t *testing.T, data []byte) {
		opt := ingest.Options{MaxBytes: 2000, MaxUnpacked: 5000, MaxEntries: 20}
		var total, n int
		for f, err := range ingest.Unpack("a.zip", bytes.NewReader(data), int64(len(data)), opt) {
			if n++; n > 22 {
				t.Fatal("too many")
			}
			inside, ok := strings.CutPrefix(f.Name, "a.zip:")
			if ok {
				require.False(t, strings.HasPrefix(inside, "/") || strings.Contains("/"+inside+"/", "/../") || strings.ContainsAny(inside, "\\\x00\n"), inside)
			}
			var over *ingest.Skipped
			if err != nil && !errors.As(err, &over) {
				require.Equal(t, kb.Invalid, kb.KindOf(err))
				require.True(t, strings.HasPrefix(err.Error(), f.Name), err)
			}
			require.LessOrEqual(t, len(f.Data), 2000)
			total += len(f.Data)
		}
		require.LessOrEqual(t, total, 5000)
	})
}

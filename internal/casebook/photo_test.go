package casebook_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// quarters gives a picture whose quarters are red, green, blue and white, from the top left by rows.
func quarters(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	colours := []color.RGBA{{R: 255, A: 255}, {G: 255, A: 255}, {B: 255, A: 255}, {255, 255, 255, 255}}
	for y := range h {
		for x := range w {
			img.SetRGBA(x, y, colours[2*y/h*2+2*x/w])
		}
	}
	return img
}

func pngOf(t testing.TB, w, h int) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, quarters(w, h)))
	return out.Bytes()
}

func jpegOf(t testing.TB, w, h int) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, quarters(w, h), &jpeg.Options{Quality: 95}))
	return out.Bytes()
}

// exif gives a TIFF structure with an orientation, a maker, and a GPS directory with a latitude (EXIF 2.3, tags 0x0112, 0x010f, 0x8825).
func exif(order binary.AppendByteOrder, turn uint16) []byte {
	b := []byte("II*\x00")
	if order.String() == binary.BigEndian.String() {
		b = []byte("MM\x00*")
	}
	entry := func(b []byte, tag, kind uint16, count uint32, value []byte) []byte {
		b = order.AppendUint16(b, tag)
		b = order.AppendUint16(b, kind)
		b = order.AppendUint32(b, count)
		return append(b, value...)
	}
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 3)
	b = entry(b, 0x010f, 2, 4, []byte("GPS\x00"))
	b = entry(b, 0x0112, 3, 1, order.AppendUint16(nil, turn)[:2:2])
	b = append(b, 0, 0)
	b = entry(b, 0x8825, 4, 1, order.AppendUint32(nil, 50))
	b = order.AppendUint32(b, 0)
	b = order.AppendUint16(b, 1)
	b = entry(b, 2, 5, 3, order.AppendUint32(nil, 68))
	b = order.AppendUint32(b, 0)
	return append(b, "PLACEOFTHECUSTOMER-LATITUDE"...)
}

// withEXIF plants EXIF, a comment and a second picture behind the end into a JPEG.
func withEXIF(plain, tiff []byte) []byte {
	segment := func(marker byte, body []byte) []byte {
		return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
	}
	out := append([]byte(nil), plain[:2]...)
	out = append(out, segment(0xe1, append([]byte("Exif\x00\x00"), tiff...))...)
	out = append(out, segment(0xfe, []byte("PLACEOFTHECUSTOMER in a comment"))...)
	out = append(out, plain[2:]...)
	return append(out, "PLACEOFTHECUSTOMER behind the end"...)
}

// withChunk plants a chunk into a PNG, behind its header.
func withChunk(plain []byte, name string, body []byte) []byte {
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	chunk = append(append(chunk, name...), body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	return append(append(append([]byte(nil), plain[:33]...), chunk...), plain[33:]...)
}

// corner gives the colour of the middle of a quarter: r, g, b or w.
func corner(img image.Image, right, low int) string {
	r := img.Bounds()
	c := color.RGBAModel.Convert(img.At(r.Min.X+r.Dx()*(1+2*right)/4, r.Min.Y+r.Dy()*(1+2*low)/4)).(color.RGBA)
	switch {
	case c.R > 200 && c.G > 200 && c.B > 200:
		return "w"
	case c.R > 200:
		return "r"
	case c.G > 200:
		return "g"
	case c.B > 200:
		return "b"
	}
	return "?"
}

func corners(img image.Image) string {
	return corner(img, 0, 0) + corner(img, 1, 0) + corner(img, 0, 1) + corner(img, 1, 1)
}

// TestOrientations holds turning against the table of EXIF 2.3 (JEITA CP-3451) on which corner the 0th row and column stand at: 1 top left,
// 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top, 7 right bottom, 8 left bottom.
func TestOrientations(t *testing.T) {
	// The stored picture is r g / b w. Where its row 0 is at the top and column 0 at the left, it stays so, and so on.
	want := map[uint16]string{1: "rgbw", 2: "grwb", 3: "wbgr", 4: "bwrg", 5: "rbgw", 6: "brwg", 7: "wgbr", 8: "gwrb", 0: "rgbw", 9: "rgbw"}
	for turn, colours := range want {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			for format, data := range map[string][]byte{"jpeg": withEXIF(jpegOf(t, 64, 32), exif(order, turn)),
				"png": withChunk(pngOf(t, 64, 32), "eXIf", exif(order, turn))} {
				full, small, err := casebook.ReadPicture(data)
				require.NoError(t, err)
				for _, kept := range [][]byte{full, small} {
					img, err := jpeg.Decode(bytes.NewReader(kept))
					require.NoError(t, err)
					assert.Equal(t, colours, corners(img), "%s, orientation %d", format, turn)
					assert.Equal(t, turn >= 5 && turn <= 8, img.Bounds().Dx() < img.Bounds().Dy())
				}
			}
		}
	}
}

// TestNothingButPixelsIsKept plants a place in every part of a file that can hold one.
func TestNothingButPixelsIsKept(t *testing.T) {
	const place = "PLACEOFTHECUSTOMER"
	files := map[string][]byte{
		"jpeg": withEXIF(jpegOf(t, 64, 32), exif(binary.BigEndian, 6)),
		"png": append(withChunk(withChunk(pngOf(t, 64, 32), "eXIf", exif(binary.LittleEndian, 6)), "tEXt", []byte("Comment\x00"+place)),
			place...),
	}
	b := open(t, t.TempDir())
	s := job(t, b)
	for name, data := range files {
		require.Contains(t, string(data), place)
		about, err := b.AddPhoto(t.Context(), anna, s.ID, data, name)
		require.NoError(t, err)
		assert.Equal(t, [2]int{32, 64}, [2]int{about.Width, about.Height}, "upright")
		_, full, small, err := b.Photo(t.Context(), anna, s.ID, about.N)
		require.NoError(t, err)
		for _, kept := range [][]byte{full, small} {
			for _, trace := range []string{place, "Exif", "GPS", "CUSTOMER"} {
				assert.NotContains(t, string(kept), trace, name)
			}
			assert.Equal(t, []byte{0xff, 0xd8, 0xff, 0xdb}, kept[:4], "straight to the tables: no segment for an application")
		}
	}
}

func TestPhotosAreShrunk(t *testing.T) {
	full, small, err := casebook.ReadPicture(jpegOf(t, 3000, 1000))
	require.NoError(t, err)
	for data, want := range map[*[]byte]image.Point{&full: {casebook.KeptSide, casebook.KeptSide / 3}, &small: {casebook.SmallSide, 106}} {
		img, err := jpeg.Decode(bytes.NewReader(*data))
		require.NoError(t, err)
		assert.Equal(t, want, img.Bounds().Size())
		assert.Equal(t, "rgbw", corners(img))
	}
	clear := image.NewNRGBA(image.Rect(0, 0, 8, 8)) // transparent all over
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, clear))
	full, _, err = casebook.ReadPicture(out.Bytes())
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(full))
	require.NoError(t, err)
	assert.Equal(t, "wwww", corners(img))
}

// header gives a PNG that says a size and holds almost nothing.
func header(w, h uint32) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), w), h)
	body = append(body, 8, 6, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), body...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(body))
	return append(out, "\x00\x00\x00\x00IEND\xae\x42\x60\x82"...)
}

// layered gives a JPEG with the first scan repeated.
func layered(plain []byte, times int) []byte {
	at := bytes.Index(plain, []byte{0xff, 0xda})
	scan := plain[at : len(plain)-2]
	out := append([]byte(nil), plain[:at]...)
	for range times {
		out = append(out, scan...)
	}
	return append(out, 0xff, 0xd9)
}

func TestBadPhotosAreRefused(t *testing.T) {
	sound := jpegOf(t, 16, 16)
	for name, test := range map[string]struct {
		data []byte
		says string
	}{
		"nothing":           {nil, "no JPEG or PNG"},
		"text":              {[]byte("dear reader"), "no JPEG or PNG"},
		"gif":               {[]byte("GIF89a\x01\x00\x01\x00"), "no JPEG or PNG"},
		"svg":               {[]byte("<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"), "no JPEG or PNG"},
		"page with a head":  {[]byte("\xff\xd8\xff<script>"), "cannot be read"},
		"cut off":           {sound[:len(sound)/2], "cannot be read"},
		"too many bytes":    {append([]byte("\xff\xd8\xff"), make([]byte, casebook.MaxPhotoBytes)...), "larger than 20 MB"},
		"bomb":              {header(60_000, 60_000), "60000 x 60000 pixels"},
		"largest size":      {header(1<<31-1, 1<<31-1), ""},
		"a long line":       {header(70_000, 2), "70000 x 2 pixels"},
		"just too large":    {header(5001, 5000), "5001 x 5000 pixels"},
		"size without data": {header(5000, 5000), "cannot be read"},
		"no size":           {header(0, 5), "cannot be read"},
		"layers":            {layered(sound, casebook.MaxPhotoScans+1), "65 layers"},
	} {
		_, _, err := casebook.ReadPicture(test.data)
		assert.Equal(t, kb.Invalid, kb.KindOf(err), "%s: %v", name, err)
		assert.ErrorContains(t, err, test.says, name)
		assert.ErrorContains(t, err, "photo: ", name)
	}
}

func TestPhotosOfASheet(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	first, err := b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 8, 6), " the fuse ")
	require.NoError(t, err)
	assert.Equal(t, "the fuse", first.Caption)
	_, err = b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 8, 6), strings.Repeat("x", 201))
	kindIs(t, kb.Invalid, err)
	_, err = b.AddPhoto(t.Context(), anna, s.ID, []byte("x"), "")
	kindIs(t, kb.Invalid, err)
	now, err := b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	assert.Equal(t, []casebook.SheetPhoto{first}, now.Photos)
	require.NoError(t, b.DeletePhoto(t.Context(), anna, s.ID, first.N))
	_, _, _, err = b.Photo(t.Context(), anna, s.ID, first.N)
	kindIs(t, kb.NotFound, err)
	whole(t, b)
}

// FuzzPhoto hands in anything: it gives a plain JPEG within the sizes, or an error that a person can act on.
func FuzzPhoto(f *testing.F) {
	f.Add(jpegOf(f, 16, 8))
	f.Add(pngOf(f, 16, 8))
	f.Add(withEXIF(jpegOf(f, 16, 8), exif(binary.BigEndian, 8)))
	f.Add(withChunk(pngOf(f, 16, 8), "eXIf", exif(binary.LittleEndian, 5)))
	f.Add(header(5000, 5000))
	f.Add(layered(jpegOf(f, 8, 8), 3))
	f.Fuzz(func(t *testing.T, data []byte) {
		full, small, err := casebook.ReadPicture(data)
		if err != nil {
			require.Equal(t, kb.Invalid, kb.KindOf(err), "%v", err)
			return
		}
		for side, kept := range map[int][]byte{casebook.KeptSide: full, casebook.SmallSide: small} {
			c, err := jpeg.DecodeConfig(bytes.NewReader(kept))
			require.NoError(t, err)
			require.LessOrEqual(t, max(c.Width, c.Height), side)
			require.NotContains(t, string(kept[:min(len(kept), 600)]), "Exif")
		}
	})
}

// TestAPhotoIsNowhereButOnItsSheet looks at the files of the data folder: pictures are in the store, not beside it.
func TestAPhotoIsNowhereButOnItsSheet(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	s := job(t, b)
	_, err := b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 8, 6), "")
	require.NoError(t, err)
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, f := range files {
		assert.True(t, strings.HasPrefix(f.Name(), "casebook.db"), filepath.Join(dir, f.Name()))
	}
}

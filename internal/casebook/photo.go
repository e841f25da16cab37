package casebook

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Limits on a picture that is handed in, and the sizes in which it is kept.
const (
	MaxPhotoBytes  = 20 << 20
	maxPhotoPixels = 25_000_000 // decoding takes up to 8 bytes a pixel of a PNG, up to 15 of a progressive JPEG
	maxPhotoSide   = 65_535
	maxPhotoScans  = 64   // of a JPEG: each makes the decoder walk over the whole picture; 10 are usual
	keptSide       = 2000 // the longer side of what is kept, in pixels
	smallSide      = 320
	keptQuality    = 85
)

// picture is a photo in the form in which it is kept: JPEG without any metadata.
type picture struct {
	width, height int
	full, small   []byte
}

// readPicture checks, decodes, turns upright and shrinks a photo. What was in the file beside the pixels - place, time, camera, owner, preview
// pictures - is gone, since only pixels are written again.
func readPicture(data []byte) (picture, error) {
	img, turn, err := decodePicture(data)
	if err != nil {
		return picture{}, err
	}
	kept := upright(shrink(img, keptSide), turn)
	p := picture{width: kept.Bounds().Dx(), height: kept.Bounds().Dy()}
	if p.full, err = encodeJPEG(kept); err != nil {
		return picture{}, err
	}
	p.small, err = encodeJPEG(shrink(kept, smallSide))
	return p, err
}

func badPhoto(format string, args ...any) error {
	return &kb.Error{Kind: kb.Invalid, Field: "photo", Msg: fmt.Sprintf(format, args...)}
}

// decodePicture decodes a JPEG or PNG within the limits, and gives how it must be turned (the orientation of EXIF, 1 to 8). The size is
// looked at before anything is unpacked.
func decodePicture(data []byte) (image.Image, int, error) {
	if len(data) > MaxPhotoBytes {
		return nil, 0, badPhoto("is larger than %d MB", MaxPhotoBytes>>20)
	}
	var config func([]byte) (image.Config, error)
	var decode func([]byte) (image.Image, error)
	turn := 1
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		scans := 0
		if turn, scans = scanJPEG(data); scans > maxPhotoScans {
			return nil, 0, badPhoto("is put together from %d layers; no camera writes such a file", scans)
		}
		config = func(b []byte) (image.Config, error) { return jpeg.DecodeConfig(bytes.NewReader(b)) }
		decode = func(b []byte) (image.Image, error) { return jpeg.Decode(bytes.NewReader(b)) }
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		turn = orientationPNG(data)
		config = func(b []byte) (image.Config, error) { return png.DecodeConfig(bytes.NewReader(b)) }
		decode = func(b []byte) (image.Image, error) { return png.Decode(bytes.NewReader(b)) }
	default:
		return nil, 0, badPhoto("is no JPEG or PNG picture")
	}
	c, err := config(data)
	if err != nil {
		return nil, 0, badPhoto("cannot be read: %v", err)
	}
	if c.Width < 1 || c.Height < 1 || max(c.Width, c.Height) > maxPhotoSide || int64(c.Width)*int64(c.Height) > maxPhotoPixels {
		return nil, 0, badPhoto("has %d x %d pixels; at most %d million in all are taken, and %d a side", c.Width, c.Height, maxPhotoPixels/1_000_000, maxPhotoSide)
	}
	img, err := decode(data)
	if err != nil {
		return nil, 0, badPhoto("cannot be read: %v", err)
	}
	return img, turn, nil
}

func encodeJPEG(img image.Image) ([]byte, error) {
	var out bytes.Buffer
	err := jpeg.Encode(&out, img, &jpeg.Options{Quality: keptQuality})
	return out.Bytes(), err
}

// shrink gives a picture whose longer side is at most so many pixels, on white where it was transparent. Each pixel is the mean of those that
// fall on it. The picture is unpacked in strips, so that no second copy of it is in memory.
func shrink(img image.Image, side int) *image.RGBA {
	from := img.Bounds()
	w, h := from.Dx(), from.Dy()
	if long := max(w, h); long > side {
		w, h = max(1, w*side/long), max(1, h*side/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	strip := image.NewRGBA(image.Rect(0, 0, from.Dx(), from.Dy()/h+2))
	for y := range h {
		top, bottom := y*from.Dy()/h, max((y+1)*from.Dy()/h, y*from.Dy()/h+1)
		rows := image.Rect(0, 0, from.Dx(), bottom-top)
		draw.Draw(strip, rows, image.NewUniform(color.White), image.Point{}, draw.Src)
		draw.Draw(strip, rows, img, image.Pt(from.Min.X, from.Min.Y+top), draw.Over)
		meanRow(out.Pix[y*out.Stride:], strip, w, rows)
	}
	return out
}

// meanRow writes one row of w pixels, each the mean of its share of the strip.
func meanRow(row []byte, strip *image.RGBA, w int, rows image.Rectangle) {
	for x := range w {
		left, right := x*rows.Dx()/w, max((x+1)*rows.Dx()/w, x*rows.Dx()/w+1)
		var r, g, b uint64
		for y := range rows.Dy() {
			line := strip.Pix[y*strip.Stride+4*left : y*strip.Stride+4*right]
			for i := 0; i < len(line); i += 4 {
				r, g, b = r+uint64(line[i]), g+uint64(line[i+1]), b+uint64(line[i+2])
			}
		}
		n := uint64((right - left) * rows.Dy())
		row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = byte(r/n), byte(g/n), byte(b/n), 255
	}
}

// upright turns a picture as its orientation says (EXIF 2.3 / JEITA CP-3451, tag 0x0112): 1 is upright, 2 to 4 keep its sides, 5 to 8 exchange them.
func upright(img *image.RGBA, turn int) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if turn < 2 || turn > 8 {
		return img
	}
	size := image.Rect(0, 0, w, h)
	if turn >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(size)
	for y := range size.Dy() {
		for x := range size.Dx() {
			fx, fy := source(turn, x, y, w, h)
			copy(out.Pix[y*out.Stride+4*x:][:4], img.Pix[fy*img.Stride+4*fx:])
		}
	}
	return out
}

// source gives where the upright pixel (x, y) stands in a picture of w x h pixels with this orientation.
func source(turn, x, y, w, h int) (int, int) {
	switch turn {
	case 2: // mirrored left to right
		return w - 1 - x, y
	case 3: // upside down
		return w - 1 - x, h - 1 - y
	case 4: // mirrored top to bottom
		return x, h - 1 - y
	case 5: // mirrored along the falling diagonal
		return y, x
	case 6: // to be turned a quarter clockwise
		return y, h - 1 - x
	case 7: // mirrored along the rising diagonal
		return w - 1 - y, h - 1 - x
	case 8: // to be turned a quarter anticlockwise
		return w - 1 - y, x
	}
	return x, y
}

// scanJPEG walks over the segments of a JPEG (ITU-T T.81, annex B) and gives its orientation, 1 if it names none, and the number of its scans.
func scanJPEG(data []byte) (turn, scans int) {
	turn = 1
	for at := 2; at+4 <= len(data); {
		if data[at] != 0xff { // inside a scan, or between segments
			next := bytes.IndexByte(data[at:], 0xff)
			if next < 0 {
				return turn, scans
			}
			at += next
			continue
		}
		marker := data[at+1]
		if marker == 0xff {
			at++
			continue
		}
		if marker == 0xd9 { // the end; some cameras put further pictures behind it
			return turn, scans
		}
		if marker == 0 || marker >= 0xd0 && marker <= 0xd7 { // stuffing, and restart markers, which stand alone
			at += 2
			continue
		}
		length := int(binary.BigEndian.Uint16(data[at+2:]))
		body := data[min(at+4, len(data)):min(at+2+max(length, 2), len(data))]
		switch marker {
		case 0xda:
			scans++
		case 0xe1:
			if exif, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00")); ok {
				turn = orientation(exif)
			}
		}
		at += 2 + max(length, 2)
	}
	return turn, scans
}

// orientationPNG gives the orientation that the eXIf chunk of a PNG names, 1 if there is none.
func orientationPNG(data []byte) int {
	for at := 8; at+8 <= len(data); {
		length := int64(binary.BigEndian.Uint32(data[at:]))
		if length > int64(len(data)-at-8) {
			return 1
		}
		if string(data[at+4:at+8]) == "eXIf" {
			return orientation(data[at+8 : at+8+int(length)])
		}
		at += 12 + int(length)
	}
	return 1
}

// orientation reads the tag 0x0112 of the first directory of a TIFF structure, 1 if there is none that can be read.
func orientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	switch string(tiff[:4]) {
	case "II*\x00":
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	first := int64(order.Uint32(tiff[4:]))
	if first+2 > int64(len(tiff)) {
		return 1
	}
	directory := tiff[first:]
	count := int(order.Uint16(directory))
	for entry := directory[2:]; count > 0 && len(entry) >= 12; count, entry = count-1, entry[12:] {
		if order.Uint16(entry) != 0x0112 {
			continue
		}
		if turn := int(order.Uint16(entry[8:])); turn >= 1 && turn <= 8 {
			return turn
		}
		return 1
	}
	return 1
}

// AddPhoto adds a picture (JPEG or PNG) to a job sheet: turned upright, shrunk, and without what the camera wrote beside the pixels.
func (b *Book) AddPhoto(ctx context.Context, by Actor, id string, data []byte, caption string) (SheetPhoto, error) {
	p := store.Photo{At: b.now(), Author: by.Name, Caption: tidy(caption)}
	if err := short("caption", p.Caption, maxSheetName); err != nil {
		return SheetPhoto{}, err
	}
	if _, err := b.mine(ctx, by, id); err != nil { // before the work is done
		return SheetPhoto{}, err
	}
	select {
	case b.photos <- struct{}{}:
	case <-ctx.Done():
		return SheetPhoto{}, ctx.Err()
	}
	pic, err := readPicture(data)
	<-b.photos
	if err != nil {
		return SheetPhoto{}, err
	}
	p.Width, p.Height, p.Picture, p.Small = pic.width, pic.height, pic.full, pic.small
	err = b.onSheet(ctx, by, id, func(tx *store.Tx, _ []string) error {
		have, err := tx.Photos(id)
		if err != nil {
			return err
		}
		if len(have) >= maxPhotos {
			return kb.Errorf(kb.Conflict, "a job sheet holds at most %d photos", maxPhotos)
		}
		p.N, err = tx.AddPhoto(id, p)
		return err
	})
	return photoOf(p), err
}

// Photo gives a picture of a job sheet as JPEG, and its small version.
func (b *Book) Photo(ctx context.Context, by Actor, id string, n int) (about SheetPhoto, full, small []byte, err error) {
	if _, err := b.mine(ctx, by, id); err != nil {
		return SheetPhoto{}, nil, nil, err
	}
	p, err := b.store.Photo(ctx, id, n)
	return photoOf(p), p.Picture, p.Small, err
}

// DeletePhoto deletes a picture of a job sheet.
func (b *Book) DeletePhoto(ctx context.Context, by Actor, id string, n int) error {
	return b.onSheet(ctx, by, id, func(tx *store.Tx, _ []string) error { return tx.DropPhoto(id, n) })
}

func photoOf(p store.Photo) SheetPhoto {
	return SheetPhoto{N: p.N, At: p.At, By: p.Author, Caption: p.Caption, Width: p.Width, Height: p.Height}
}

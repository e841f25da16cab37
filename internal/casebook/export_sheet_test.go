package casebook

import "image"

// Matches tells whether a password is the one of a hash.
func Matches(password, phc string) (ok, present bool, err error) { return matches(password, phc) }

// HashPassword hashes a password by the present parameters.
func HashPassword(password string) string { return hashPassword(password, presentHashing()) }

// ReadPicture gives a photo in the form in which it is kept.
func ReadPicture(data []byte) (full, small []byte, err error) {
	p, err := readPicture(data)
	return p.full, p.small, err
}

// Upright turns a picture as an orientation says.
func Upright(img *image.RGBA, turn int) *image.RGBA { return upright(img, turn) }

// The limits on photos.
const (
	MaxPhotoPixels = maxPhotoPixels
	MaxPhotoScans  = maxPhotoScans
	KeptSide       = keptSide
	SmallSide      = smallSide
)

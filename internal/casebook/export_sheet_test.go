package casebook

import (
	"context"
	"image"

	"ruledout/internal/store"
)

// SetWeakHash gives an account a password that was hashed with less memory, as an earlier version might have done.
func (b *Book) SetWeakHash(ctx context.Context, name, password string) error {
	return b.store.Update(ctx, func(tx *store.Tx) error {
		a, err := tx.Account(name)
		if err != nil {
			return err
		}
		a.Password = hashPassword(password, hashing{memory: 64, passes: 1, lanes: 1})
		return tx.SetAccount(a)
	})
}

// HashOf gives the hash of an account's password.
func (b *Book) HashOf(ctx context.Context, name string) (string, error) {
	a, err := b.store.Account(ctx, name)
	return a.Password, err
}

// HoldHashes takes all turns to hash until release is called.
func (b *Book) HoldHashes() (release func()) {
	for range hashesAtOnce {
		b.people.turns <- struct{}{}
	}
	return func() {
		for range hashesAtOnce {
			<-b.people.turns
		}
	}
}

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

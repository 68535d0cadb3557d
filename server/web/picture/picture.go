// Package picture makes a posted photo ready to be stored: it finds out from the bytes what the file is,
// refuses what would cost too much memory before it decodes anything, makes the picture small, turns it
// upright and writes it anew as a JPEG. Writing it anew is what removes the place, the camera and
// everything else that a phone puts into its files. A colour profile goes with it, so that the colours of
// a wide-gamut phone come out a little paler.
package picture

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"leground/tracker"
)

// What one photo may cost. The bytes are those of the stored JPEGs.
const (
	maxPosted  = 20 << 20 // bytes
	fullBytes  = 350 << 10
	thumbBytes = 20 << 10
)

// Ready is a picture that can be stored: upright, without metadata, at most tracker.PhotoEdge pixels
// along its longer edge and 350 KiB; its thumbnail at most tracker.ThumbEdge pixels and 20 KiB. The same
// posted bytes always give the same Ready.
type Ready struct {
	Full, Thumb             []byte // JPEG
	Width, Height           int    // pixels of Full
	ThumbWidth, ThumbHeight int    // pixels of Thumb
	SHA256                  string // of Full, hexadecimal
	PostedSHA256            string // of the bytes that were posted, hexadecimal
}

// Desk makes pictures ready one at a time, so that many photos posted at once cost no more memory than one.
type Desk struct{ place chan struct{} }

// NewDesk makes a desk. A program needs one.
func NewDesk() *Desk { return &Desk{place: make(chan struct{}, 1)} }

// Prepare is the function [Prepare] once the desk is free. It gives up waiting when ctx ends.
func (d *Desk) Prepare(ctx context.Context, r io.Reader) (Ready, error) {
	select {
	case d.place <- struct{}{}:
	case <-ctx.Done():
		return Ready{}, ctx.Err()
	}
	defer func() { <-d.place }()
	return Prepare(r)
}

// Prepare reads a JPEG, PNG or WebP picture of at most 20 MB and 50 million pixels. Every error says in a
// sentence for people what is wrong and what to do; it is of kind tracker.Invalid, or tracker.Unavailable
// when the bytes did not all arrive.
func Prepare(r io.Reader) (Ready, error) {
	posted, err := io.ReadAll(io.LimitReader(r, maxPosted+1))
	if err != nil {
		return Ready{}, fmt.Errorf("%w (%v)", tracker.Refuse(tracker.Unavailable, "The photo did not arrive whole. Send it again."), err)
	}
	kind, err := sniff(posted)
	if err != nil {
		return Ready{}, err
	}
	if err := kind.checkHeader(posted); err != nil {
		return Ready{}, err
	}
	upright, err := kind.decodeSmall(posted)
	if err != nil {
		return Ready{}, err
	}
	full, err := pack(upright, fullBytes)
	if err != nil {
		return Ready{}, err
	}
	thumb, err := pack(shrink(upright, tracker.ThumbEdge), thumbBytes)
	return Ready{
		Full: full.jpeg, Width: full.size.X, Height: full.size.Y, SHA256: hash(full.jpeg),
		Thumb: thumb.jpeg, ThumbWidth: thumb.size.X, ThumbHeight: thumb.size.Y, PostedSHA256: hash(posted),
	}, err
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func refuse(format string, args ...any) error {
	return tracker.Refuse(tracker.Invalid, fmt.Sprintf(format, args...))
}

func unreadable() error {
	return refuse("The photo could not be read. Take it again, or choose a JPEG.")
}

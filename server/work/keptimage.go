package work

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"

	"courson/geo/raster"
	"courson/geo/tile"
	"courson/store"
)

// The kinds of paper that keep images to be drawn: what each is, its key the
// image's id; and its pixels, whose key is the id with level, column and line of the
// part.
const (
	PaperImage     store.PaperKind = "image"
	PaperImagePart store.PaperKind = "image-part"
)

// mostKeptPixels bounds what is kept of one image; larger ones are kept coarser.
const mostKeptPixels = 16 << 20

// mostImageWord bounds the name of a sensor, bytes.
const mostImageWord = 80

// KeptImage is an image that can be drawn: what it shows, of which day and sensor.
type KeptImage struct {
	ID     string    `json:"id"`
	Index  string    `json:"index"`  // what its values are: NDVI
	Sensor string    `json:"sensor"` // "" not said
	Day    string    `json:"day"`    // 2027-01-31
	Season int       `json:"season"`
	Source string    `json:"source"` // "band 1", "NDVI of bands 4 and 3"
	File   string    `json:"file"`
	By     string    `json:"by"`
	Made   time.Time `json:"made"`
	Digest string    `json:"digest"` // of its pixels and place, to know it again
	// Limits are those of the classes that it is drawn in: the same for all images
	// of one index, so that they can be compared by eye.
	Limits  [tile.SurfaceLimits]float64 `json:"limits"`
	Picture raster.Picture              `json:"picture"`
}

type imagePart struct {
	Pixels []byte `json:"pixels"` // raster.Part.Pack
}

// Keeping says how an image is to be kept beside its values at the vines.
type Keeping struct {
	Index, Sensor, By string
	Season            int
	Area              orb.Bound // of the blocks, degrees
	Now               time.Time
}

// KeepImage keeps an image as a layer to be drawn, and tells what was kept, in
// words. The same image is known again; another one of the same index, sensor,
// source and day takes its place. Errors wrap ErrImage where the image cannot be used.
func KeepImage(ctx context.Context, st store.Store, job ImageJob, k Keeping) (*KeptImage, string, error) {
	out, parts, err := job.picture(k)
	if err != nil {
		return nil, "", err
	}
	var said string
	err = st.Update(ctx, func(tx store.Tx) (err error) {
		said, err = out.save(ctx, tx, parts)
		return err
	})
	return out, said, err
}

// picture makes an image that can be drawn, and the parts of its pixels by key.
func (job ImageJob) picture(k Keeping) (*KeptImage, map[string][]byte, error) {
	if k.Sensor = strings.TrimSpace(k.Sensor); len(k.Sensor) > mostImageWord {
		return nil, nil, job.fault(fmt.Errorf("the name of the sensor has %d bytes, at most %d", len(k.Sensor), mostImageWord))
	}
	rd, err := job.open()
	if err != nil {
		return nil, nil, err
	}
	sum, parts, top := sha256.New(), map[string][]byte{}, []uint16{}
	id, err := uuid.NewV7()
	if err != nil {
		return nil, nil, err
	}
	out := &KeptImage{ID: id.String(), Index: k.Index, Sensor: k.Sensor, Day: job.Set.Meta.Date.Format(time.DateOnly), Season: k.Season, Source: job.sourceText(), File: job.Name, By: k.By, Made: k.Now}
	p, err := rd.Picture(job.Source, k.Area, mostKeptPixels, func(part raster.Part) error {
		packed, err := part.Pack()
		if err != nil {
			return err
		}
		parts[partKey(out.ID, part.Level, part.Column, part.Line)] = packed
		sum.Write(packed)
		top = part.Stored // that of the last level shows all of the image
		return nil
	})
	if err != nil {
		return nil, nil, job.fault(err)
	}
	out.Picture = *p
	place, err := json.Marshal([]any{p, out.Index, out.Sensor, out.Source, out.Day})
	if err != nil {
		return nil, nil, err
	}
	sum.Write(place)
	out.Digest = hex.EncodeToString(sum.Sum(nil))
	out.Limits = limitsFor(p, top)
	return out, parts, nil
}

// save writes the image, or finds that it is kept already.
func (k *KeptImage) save(ctx context.Context, tx store.Tx, parts map[string][]byte) (string, error) {
	list, err := KeptImages(ctx, tx)
	if err != nil {
		return "", err
	}
	said := "kept as a layer of the map"
	for _, old := range list {
		if old.Digest == k.Digest {
			*k = *old
			return "kept as a layer of the map before", nil
		}
		if old.Index == k.Index {
			k.Limits = old.Limits
		}
		if old.Index == k.Index && old.Sensor == k.Sensor && old.Day == k.Day && old.Source == k.Source {
			if err := old.Remove(tx, k.By, k.Made); err != nil {
				return "", err
			}
			said = fmt.Sprintf("kept as a layer of the map instead of %s, of the same day, sensor and index", old.File)
		}
	}
	for key, pixels := range parts {
		if err := savePaper(tx, store.Paper{Kind: PaperImagePart, Key: key, By: k.By, Made: k.Made}, imagePart{pixels}); err != nil {
			return "", err
		}
	}
	if n := k.Picture.Coarser; n > 1 {
		said += fmt.Sprintf("; it is drawn from means of %d x %d pixels, the vines' values are from the image's own", n, n)
	}
	return said, savePaper(tx, store.Paper{Kind: PaperImage, Key: k.ID, Season: k.Season, By: k.By, Made: k.Made}, k)
}

// Remove takes the image off the list of layers.
func (k *KeptImage) Remove(tx store.Tx, by string, now time.Time) error {
	return tx.SavePaper(store.Paper{Kind: PaperImage, Key: k.ID, Season: k.Season, By: by, Made: now, Value: []byte("{}")})
}

// KeptImages gives all images, the newest day first.
func KeptImages(ctx context.Context, st store.Plans) ([]*KeptImage, error) {
	return imagesOf(ctx, st, store.PaperQuery{Kind: PaperImage})
}

// KeptImageOf gives one image; the error wraps store.ErrNotFound.
func KeptImageOf(ctx context.Context, st store.Plans, id string) (*KeptImage, error) {
	if id == "" || len(id) > 60 {
		return nil, fmt.Errorf("image %.60q: %w", id, store.ErrNotFound)
	}
	list, err := imagesOf(ctx, st, store.PaperQuery{Kind: PaperImage, Key: id})
	if err == nil && len(list) == 0 {
		err = fmt.Errorf("image %.60q: %w", id, store.ErrNotFound)
	}
	if err != nil {
		return nil, err
	}
	return list[0], nil
}

func imagesOf(ctx context.Context, st store.Plans, q store.PaperQuery) ([]*KeptImage, error) {
	papers, err := st.Papers(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("images: %w", err)
	}
	out := make([]*KeptImage, len(papers))
	for i, p := range papers {
		out[i] = &KeptImage{}
		if err := json.Unmarshal(p.Value, out[i]); err != nil {
			return nil, fmt.Errorf("image %s: %w", p.Key, err)
		}
	}
	slices.SortStableFunc(out, func(a, b *KeptImage) int {
		if c := strings.Compare(b.Day, a.Day); c != 0 {
			return c
		}
		return strings.Compare(a.Index+a.Sensor, b.Index+b.Sensor)
	})
	return out, nil
}

func partKey(id string, level, column, line int) string {
	return fmt.Sprintf("%s %d %d %d", id, level, column, line)
}

// Part reads the pixels of a part of a level. The error wraps store.ErrNotFound
// where it was never kept.
func (k *KeptImage) Part(ctx context.Context, st store.Plans, level, column, line int) ([]uint16, error) {
	key := partKey(k.ID, level, column, line)
	papers, err := st.Papers(ctx, store.PaperQuery{Kind: PaperImagePart, Key: key})
	switch {
	case err != nil:
		return nil, fmt.Errorf("pixels of image %s: %w", key, err)
	case len(papers) != 1:
		return nil, fmt.Errorf("pixels of image %s: %w", key, store.ErrNotFound)
	}
	var p imagePart
	if err := json.Unmarshal(papers[0].Value, &p); err != nil {
		return nil, fmt.Errorf("pixels of image %s: %w", key, err)
	}
	w, h := k.Picture.Size(level)
	return raster.UnpackPart(p.Pixels, min(raster.PartSide, w-column*raster.PartSide), min(raster.PartSide, h-line*raster.PartSide))
}

// Legend gives the classes that the image is drawn in.
func (k *KeptImage) Legend() tile.Legend { return tile.SurfaceLegend(k.Index, "", k.Limits) }

// limitsFor gives limits within which 96 in a hundred of an image's pixels lie.
func limitsFor(p *raster.Picture, stored []uint16) [tile.SurfaceLimits]float64 {
	some := slices.DeleteFunc(slices.Clone(stored), func(n uint16) bool { return n == 0 })
	if len(some) == 0 {
		return tile.EvenLimits(p.Least, p.Most)
	}
	slices.Sort(some)
	at := func(share float64) float64 { return p.Value(some[int(math.Round(share*float64(len(some)-1)))]) }
	return tile.EvenLimits(at(0.02), at(0.98))
}

func (j *ImageJob) sourceText() string {
	band := max(j.Source.Band.Band, 1)
	switch j.Source.Index {
	case raster.NDVI:
		return fmt.Sprintf("NDVI of bands %d and %d", band, j.Source.Red.Band)
	case raster.Ratio:
		return fmt.Sprintf("ratio of bands %d and %d", band, j.Source.Red.Band)
	}
	return fmt.Sprintf("band %d", band)
}

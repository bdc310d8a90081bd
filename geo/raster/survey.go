package raster

import (
	"fmt"
	"math"
	"slices"
)

// Survey is what a look through all pixels of a band tells, in stored values
// unless said otherwise.
type Survey struct {
	Band     int
	Pixels   int64
	None     int64 // without a value: declared, masked, not finite, never written
	Least    float64
	Most     float64 // of the pixels with a value, suspects left out; NaN: none
	Mean     float64
	Suspects []Suspect
}

// Suspect is a value that often stands for "no value", is not declared to, and
// lies far from the others.
type Suspect struct {
	Value  float64
	Pixels int64
}

// customary are values that programs write for "no value".
var customary = []float64{-32768, -32767, -9999, -99999, -999, -999999, -99, -1e30, -1e38,
	float64(float32(-3.4028234663852886e38)), -math.MaxFloat64, float64(float32(3.4028234663852886e38)),
	9999, 32767, 65535, -10000, 99999, 1e20, float64(float32(1e20)), float64(float32(-1e30)), float64(float32(-1e38))}

// Survey looks through all pixels of a band.
func (rd *Reader) Survey(p Pick) (Survey, error) {
	n, err := rd.r.band(p)
	if err != nil {
		return Survey{}, err
	}
	s := Survey{Band: n, Least: math.NaN(), Most: math.NaN(), Mean: math.NaN()}
	p.Scale, p.Offset, p.Range = new(float64), new(float64), nil
	*p.Scale = 1
	odd := make([]int64, len(customary))
	var least, most, sum = math.Inf(1), math.Inf(-1), 0.0
	var kept int64
	err = rd.each(p, func(v float64) {
		s.Pixels++
		if math.IsNaN(v) {
			s.None++
			return
		}
		if i := slices.Index(customary, v); i >= 0 {
			odd[i]++
			return
		}
		kept++
		sum += v
		least, most = min(least, v), max(most, v)
	})
	if err != nil {
		return s, err
	}
	s.judge(odd, least, most, sum, kept)
	return s, nil
}

// judge sorts the customary values into suspects, which lie further from all
// others than those from each other, and ordinary ones.
func (s *Survey) judge(odd []int64, least, most, sum float64, kept int64) {
	for i, n := range odd {
		v := customary[i]
		if n == 0 {
			continue
		}
		if span := most - least; kept == 0 || v < least-max(span, 1) || v > most+max(span, 1) {
			s.Suspects = append(s.Suspects, Suspect{v, n})
			continue
		}
		kept += n
		sum += v * float64(n)
		least, most = min(least, v), max(most, v)
	}
	if kept > 0 {
		s.Least, s.Most, s.Mean = least, most, sum/float64(kept)
	}
}

// each gives every pixel of a band, band of chunks by band of chunks.
func (rd *Reader) each(p Pick, do func(v float64)) error {
	m := rd.r.image
	lines := min(max(1, mostPixels/m.width), max(m.chunkH, 1))
	buf := make([]float64, 0, m.width*lines)
	for y := 0; y < m.height; y += lines {
		w := Window{0, y, m.width, min(lines, m.height-y)}
		buf = buf[:w.Columns*w.Lines]
		if err := rd.Read(p, w, buf); err != nil {
			return err
		}
		for _, v := range buf {
			do(v)
		}
	}
	return nil
}

// Doubt is a kind of question about an image.
type Doubt string

// The doubts.
const (
	DoubtNoData  Doubt = "no-data"  // values that look like "no value" and are not declared
	DoubtScale   Doubt = "scale"    // whole numbers that look like an index times 10,000 or 0 to 255
	DoubtOutside Doubt = "outside"  // scaled values beyond -1 to 1, where an index cannot be
	DoubtEmpty   Doubt = "no-value" // no pixel has a value
)

// Question is what a person must settle before an image is used, with what we
// would propose. Nothing is applied unasked.
type Question struct {
	Doubt    Doubt
	Text     string
	Proposed []Pick // answers, the likeliest first; none where only a person can know
}

// Questions asks what the numbers of a band leave open. p is what was settled
// so far; index tells that the band is said to be a vegetation index, which lies
// between -1 and 1.
func (rd *Reader) Questions(s Survey, p Pick, index bool) (out []Question) {
	b := rd.r.Bands[s.Band-1]
	p.Band = s.Band
	if math.IsNaN(s.Least) {
		return []Question{{Doubt: DoubtEmpty, Text: fmt.Sprintf("no pixel of band %d has a value", s.Band)}}
	}
	if len(s.Suspects) > 0 {
		q := p
		q.NoData = slices.Clone(p.NoData)
		text := ""
		for i, x := range s.Suspects {
			if i > 0 {
				text += ", "
			}
			text += fmt.Sprintf("%v (%d pixels)", x.Value, x.Pixels)
			q.NoData = append(q.NoData, x.Value)
		}
		out = append(out, Question{DoubtNoData, fmt.Sprintf("values far from all others, which lie between %.6g and %.6g: %s; do they mean no value?", s.Least, s.Most, text), []Pick{q}})
	}
	if !index {
		return out
	}
	scale, offset := b.Scale, b.Offset
	if p.Scale != nil {
		scale = *p.Scale
	}
	if p.Offset != nil {
		offset = *p.Offset
	}
	least, most := s.Least*scale+offset, s.Most*scale+offset
	if least >= -1 && most <= 1 {
		return out
	}
	return append(out, rd.scaleQuestion(s, p, least, most, b.Scaled || p.Scale != nil || p.Offset != nil))
}

// scaleQuestion asks how numbers that cannot be an index are to be read.
func (rd *Reader) scaleQuestion(s Survey, p Pick, least, most float64, scaled bool) Question {
	_, _, whole := rd.r.image.whole()
	by := func(scale, offset float64) Pick {
		q := p
		q.Scale, q.Offset = &scale, &offset
		return q
	}
	switch {
	case !scaled && whole && rd.r.image.bits == 8 && s.Least >= 0:
		return Question{DoubtScale, fmt.Sprintf("the index is stored as whole numbers from %v to %v of 0 to 255 and the file does not say by which scale; state it, or use it only to rank vines within this image", s.Least, s.Most),
			[]Pick{by(1./255, 0), by(2./255, -1), by(1./100, 0)}}
	case !scaled && whole && s.Least >= -10000 && s.Most <= 10000:
		return Question{DoubtScale, fmt.Sprintf("the index is stored as whole numbers from %v to %v and the file does not say by which scale; is it stored times 10 000?", s.Least, s.Most),
			[]Pick{by(1e-4, 0)}}
	}
	q := p
	q.Range = &[2]float64{-1, 1}
	return Question{DoubtOutside, fmt.Sprintf("values from %v to %v, but an index lies between -1 and 1; are those beyond no values, or is the scale another?", least, most), []Pick{q}}
}

package format

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Notice says what was changed or left out while reading, once for all places
// of a file where it happened.
type Notice struct {
	File     string `json:"file,omitempty"`
	Field    string `json:"field,omitempty"`
	Text     string `json:"text"`
	Count    int    `json:"count"`              // at how many places
	Features []int  `json:"features,omitempty"` // the first of them, counted from 0
	Lines    []int  `json:"lines,omitempty"`    // the first of them, counted from 1
}

// placesKept is how many places of one notice are listed.
const placesKept = 20

// String gives the notice in one line.
func (n Notice) String() string {
	var b strings.Builder
	b.WriteString(n.File)
	sep := func() {
		if b.Len() > 0 {
			b.WriteString(", ")
		}
	}
	switch {
	case len(n.Features) > 0:
		sep()
		writeList(&b, "feature", n.Features, n.Count)
	case len(n.Lines) > 0:
		sep()
		writeList(&b, "line", n.Lines, n.Count)
	}
	if n.Field != "" {
		sep()
		b.WriteString(n.Field)
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	b.WriteString(n.Text)
	return b.String()
}

func writeList(b *strings.Builder, word string, places []int, count int) {
	b.WriteString(word)
	if count > 1 {
		b.WriteString("s")
	}
	for i, p := range places {
		if i > 0 {
			b.WriteString(",")
		}
		fmt.Fprintf(b, " %d", p)
	}
	if more := count - len(places); more > 0 {
		fmt.Fprintf(b, " and %d more", more)
	}
}

// Notices gathers notices; equal ones of a file are joined.
type Notices struct {
	list []Notice
	at   map[[3]string]int
}

// Add takes up a notice about one place: a feature (None where it is not about
// one) and a line (0 where unknown).
func (n *Notices) Add(file, field string, feature, line int, text string) {
	n.Merge(Notice{File: file, Field: field, Text: text, Count: 1, Features: placeOf(feature, 0), Lines: placeOf(line, 1)})
}

func placeOf(p, least int) []int {
	if p < least {
		return nil
	}
	return []int{p}
}

// Merge takes up a notice that may already stand for several places.
func (n *Notices) Merge(x Notice) {
	key := [3]string{x.File, x.Field, x.Text}
	if n.at == nil {
		n.at = map[[3]string]int{}
	}
	i, ok := n.at[key]
	if !ok {
		n.at[key] = len(n.list)
		n.list = append(n.list, x)
		return
	}
	known := &n.list[i]
	known.Count += x.Count
	known.Features = appendPlaces(known.Features, x.Features)
	known.Lines = appendPlaces(known.Lines, x.Lines)
}

func appendPlaces(to, more []int) []int {
	room := placesKept - len(to)
	return append(to, more[:max(0, min(room, len(more)))]...)
}

// List gives the notices in the order in which they first came.
func (n *Notices) List() []Notice { return n.list }

// Clone gives a copy that goes its own way.
func (n *Notices) Clone() Notices {
	c := Notices{at: maps.Clone(n.at)}
	for _, x := range n.list {
		x.Features, x.Lines = slices.Clone(x.Features), slices.Clone(x.Lines)
		c.list = append(c.list, x)
	}
	return c
}

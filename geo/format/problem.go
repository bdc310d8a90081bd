// Package format holds what the readers of all file formats have in common: how
// they say what is wrong with a file, and what they changed or left out while
// reading it. The formats themselves are the packages below this one.
package format

import (
	"encoding/json"
	"fmt"
	"strings"
)

// None stands for "not about a feature" in Problem and Notice.
const None = -1

// Problem is one thing that is wrong with a file, at one place. It is an error:
// nothing of the file can be taken over until it is put right.
type Problem struct {
	File    string // name of the file, "" where only one is read
	Feature int    // feature counted from 0, or None
	Line    int    // line counted from 1 (the header of a table is line 1); 0 unknown
	Field   string // member, property or column; "" where it is about the whole
	What    string // what is wrong
	Found   string // what stands there, as written
	Wanted  string // what would be right, or what to do
	Cause   error  // a sentinel of the reader, nil mostly
	Ask     *Question
}

// Question is what a person must say before a file can be read: a problem with a
// question is settled by the answer, not by another file.
type Question struct {
	Option  string   `json:"option"`            // which option answers it: "crs", "unit", "season" …
	Of      string   `json:"of,omitempty"`      // the column or file it is about
	Choices []string `json:"choices,omitempty"` // what can be answered, where that is a list
}

// Unwrap gives the cause.
func (p *Problem) Unwrap() error { return p.Cause }

// Error gives the whole in one line: where, what is wrong, what was found, what
// is wanted.
func (p *Problem) Error() string {
	var b strings.Builder
	writePlace(&b, p.File, p.Feature, p.Line, p.Field)
	b.WriteString(p.What)
	if p.Found != "" {
		b.WriteString("; found ")
		b.WriteString(p.Found)
	}
	if p.Wanted != "" {
		b.WriteString("; wanted ")
		b.WriteString(p.Wanted)
	}
	return b.String()
}

func writePlace(b *strings.Builder, file string, feature, line int, field string) {
	start := b.Len()
	sep := func() {
		if b.Len() > start {
			b.WriteString(", ")
		}
	}
	b.WriteString(file)
	switch {
	case feature >= 0 && line > 0:
		sep()
		fmt.Fprintf(b, "feature %d (line %d)", feature, line)
	case feature >= 0:
		sep()
		fmt.Fprintf(b, "feature %d", feature)
	case line > 0:
		sep()
		fmt.Fprintf(b, "line %d", line)
	}
	if field != "" {
		sep()
		b.WriteString(field)
	}
	if b.Len() > start {
		b.WriteString(": ")
	}
}

// wireProblem is the JSON form of a Problem.
type wireProblem struct {
	File    string    `json:"file,omitempty"`
	Feature *int      `json:"feature,omitempty"`
	Line    int       `json:"line,omitempty"`
	Field   string    `json:"field,omitempty"`
	What    string    `json:"what"`
	Found   string    `json:"found,omitempty"`
	Wanted  string    `json:"wanted,omitempty"`
	Text    string    `json:"text"`
	Ask     *Question `json:"ask,omitempty"`
}

// MarshalJSON writes the parts and, as "text", the whole line.
func (p *Problem) MarshalJSON() ([]byte, error) {
	w := wireProblem{File: p.File, Line: p.Line, Field: p.Field, What: p.What, Found: p.Found, Wanted: p.Wanted, Text: p.Error(), Ask: p.Ask}
	if p.Feature >= 0 {
		w.Feature = &p.Feature
	}
	return json.Marshal(w)
}

// Quote gives a piece of a file for a message: in quotes, cut after 60
// characters, control characters escaped.
func Quote(s string) string {
	const most = 60
	runes := 0
	for i := range s {
		if runes == most {
			return fmt.Sprintf("%q…", s[:i])
		}
		runes++
	}
	return fmt.Sprintf("%q", s)
}

// Nearest gives the known word that differs from the given one by the fewest
// inserted, left out, changed or swapped letters, "" when all differ by more
// than a third of their length. Letter case counts not.
func Nearest(word string, known []string) string {
	best, least := "", 1<<30
	w := []rune(strings.ToLower(word))
	for _, k := range known {
		r := []rune(strings.ToLower(k))
		d := editDistance(w, r)
		if d*3 <= max(len(w), len(r)) && d < least {
			best, least = k, d
		}
	}
	return best
}

// editDistance counts the edits between two words, a swap of two neighbours
// being one (restricted Damerau-Levenshtein distance).
func editDistance(a, b []rune) int {
	before, last, now := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		now[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(b)]
}

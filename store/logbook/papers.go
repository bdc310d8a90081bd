package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"

	"courson/geo/vine"
	"courson/store"
)

// Bounds of papers, chosen by us.
const (
	mostPaper = 4 << 20 // bytes
	mostKey   = 200
)

// CheckPaper refuses what no store can keep.
func CheckPaper(p store.Paper) error {
	if p.Kind == "" || p.Key == "" || len(p.Key) > mostKey || len(p.Kind) > mostKey {
		return fmt.Errorf("a paper has a kind and a key of 1 to %d bytes, found %.40q and %.40q", mostKey, p.Kind, p.Key)
	}
	if p.Season != 0 && (p.Season < vine.MinSeason || p.Season > vine.MaxSeason) {
		return fmt.Errorf("season %d is not between %d and %d", p.Season, vine.MinSeason, vine.MaxSeason)
	}
	if err := checkTexts("paper", "kind", string(p.Kind), "key", p.Key, "by", p.By); err != nil {
		return err
	}
	if len(p.Value) > mostPaper {
		return fmt.Errorf("a paper of %d bytes: at most %d", len(p.Value), mostPaper)
	}
	if b := bytes.TrimSpace(p.Value); len(b) == 0 || b[0] != '{' || !json.Valid(b) {
		return fmt.Errorf("a paper must be a JSON object, found %.40q", p.Value)
	}
	return CheckJSON("paper", p.Value)
}

// Gone tells whether a version takes its paper away.
func Gone(value []byte) bool {
	var o map[string]json.RawMessage
	return json.Unmarshal(value, &o) == nil && len(o) == 0
}

// Newest keeps of versions, newest first within a key and in order of key, those
// that a query asks for.
func Newest(list []store.Paper, q store.PaperQuery) []store.Paper {
	if q.Versions {
		return list
	}
	var out []store.Paper
	for i, p := range list {
		if i > 0 && list[i-1].Key == p.Key {
			continue
		}
		if !Gone(p.Value) && (q.Season == 0 || p.Season == q.Season) {
			out = append(out, p)
		}
	}
	return out
}

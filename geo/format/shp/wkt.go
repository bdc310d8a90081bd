package shp

import (
	"fmt"
	"strconv"
	"strings"
)

// node is a piece of a coordinate system written as text (WKT 1): a word and
// what stands in its brackets. Numbers and texts are nodes without children.
type node struct {
	word string
	args []node
}

const deepest = 20

// parseWKT reads a coordinate system.
func parseWKT(s string) (node, error) {
	p := &wktParser{s: s}
	n, err := p.node(0)
	if err != nil {
		return n, err
	}
	if p.blank(); p.at != len(s) {
		return n, fmt.Errorf("text after the end: %.20q", s[p.at:])
	}
	return n, nil
}

type wktParser struct {
	s  string
	at int
}

func (p *wktParser) blank() {
	for p.at < len(p.s) && strings.IndexByte(" \t\r\n\x00", p.s[p.at]) >= 0 {
		p.at++
	}
}

func (p *wktParser) node(depth int) (n node, err error) {
	if depth > deepest {
		return n, fmt.Errorf("brackets too deep")
	}
	if p.blank(); p.at < len(p.s) && p.s[p.at] == '"' {
		end := strings.IndexByte(p.s[p.at+1:], '"')
		if end < 0 {
			return n, fmt.Errorf("a text without end")
		}
		n.word, p.at = p.s[p.at+1:][:end], p.at+end+2
		return n, nil
	}
	start := p.at
	for p.at < len(p.s) && strings.IndexByte("[](), \t\r\n\"", p.s[p.at]) < 0 {
		p.at++
	}
	if n.word = p.s[start:p.at]; n.word == "" {
		return n, fmt.Errorf("a word is missing at byte %d", p.at)
	}
	if p.blank(); p.at == len(p.s) || p.s[p.at] != '[' && p.s[p.at] != '(' {
		return n, nil
	}
	for p.at++; ; p.at++ {
		a, err := p.node(depth + 1)
		if err != nil {
			return n, err
		}
		n.args = append(n.args, a)
		if p.blank(); p.at == len(p.s) {
			return n, fmt.Errorf("a bracket is not closed")
		}
		switch p.s[p.at] {
		case ']', ')':
			p.at++
			return n, nil
		case ',':
		default:
			return n, fmt.Errorf("a comma is missing at byte %d", p.at)
		}
	}
}

// child gives the first piece with a word.
func (n node) child(word string) (node, bool) {
	for _, a := range n.args {
		if len(a.args) > 0 && strings.EqualFold(a.word, word) {
			return a, true
		}
	}
	return node{}, false
}

// text gives the word at a place, "" where there is none.
func (n node) text(i int) string {
	if i >= len(n.args) {
		return ""
	}
	return n.args[i].word
}

// number gives the number at a place.
func (n node) number(i int) (float64, error) {
	v, err := strconv.ParseFloat(n.text(i), 64)
	if err != nil {
		return 0, fmt.Errorf("a number is missing in %s: %.20q", n.word, n.text(i))
	}
	return v, nil
}

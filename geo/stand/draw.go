package stand

import "strings"

// Draw draws a stand as text, one character per vine and one line per row, for
// tests and terminals. Themes are condition (? unseen, o bearing, y young,
// w weak, d diseased, x dead, _ missing, r replanted, ! doubtful), vigour (1 to
// 5, . none, _ a gap) and progress (. not started, / started, # done, ~ to redo,
// - skipped, _ a gap). It is empty for any other theme.
func Draw(s *Stand, theme string) string {
	var char func(i int) byte
	switch theme {
	case "condition":
		char = func(i int) byte { return pick("?oywdx_r!", int(s.Condition[i])) }
	case "vigour":
		char = func(i int) byte { return pick(".12345", int(s.Vigour[i])) }
	case "progress":
		char = func(i int) byte { return pick("./#~-", int(s.Progress[i])) }
	default:
		return ""
	}
	var b strings.Builder
	for _, row := range s.Ground.Rows {
		for i := row.First; i < row.First+row.Count; i++ {
			if theme != "condition" && !s.Condition[i].Living() {
				b.WriteByte('_')
			} else {
				b.WriteByte(char(i))
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func pick(chars string, i int) byte {
	if i < len(chars) {
		return chars[i]
	}
	return '?'
}

package work

import (
	"strconv"
	"strings"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/vine"
)

// motherOf reads whose layer line i says that its vine is: a number of the same
// row, or the address of a vine there, as a cane reaches no farther. ok is false
// after a problem, which is told; 0 is no layer.
func (w *blockWork) motherOf(rw *rowWork, i, k int, cond vine.Condition) (id vine.ID, ok bool) {
	said := strings.TrimSpace(w.names.text(w.vines.mother.get(i)))
	if said == "" {
		return 0, true
	}
	bad := func(what string) (vine.ID, bool) {
		w.problem(w.at(i), string(csv.Mother), what, format.Quote(said), "the number of another vine of row "+rw.r.Label+", beside the status replant")
		return 0, false
	}
	if cond != vine.Replanted {
		return bad("a layer that is not told as replanted")
	}
	number := said
	if cut := strings.LastIndex(said, "/"); cut >= 0 {
		if row := said[:cut]; row != rw.r.Label && row != w.b.Code+"/"+rw.r.Label {
			return bad("a mother in another row")
		}
		number = said[cut+1:]
	}
	n, err := strconv.Atoi(number)
	if err != nil {
		return bad("not the number of a vine")
	}
	for j, v := range rw.vines {
		if v.Number == n && j != k {
			return v.ID, true
		}
	}
	return bad("no other vine of the row has this number")
}

package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"

	"courson/store"
)

// mostStandards is how long standards may be, bytes; chosen by us.
const mostStandards = 1 << 20

// CheckStandards refuses what no store can keep.
func CheckStandards(v store.Standards) error {
	if err := CheckText("by", v.By); err != nil {
		return err
	}
	if len(v.Value) > mostStandards {
		return fmt.Errorf("standards of %d bytes: at most %d", len(v.Value), mostStandards)
	}
	if b := bytes.TrimSpace(v.Value); len(b) == 0 || b[0] != '{' || !json.Valid(b) {
		return fmt.Errorf("standards must be a JSON object, found %.40q", v.Value)
	}
	return CheckJSON("standards", v.Value)
}

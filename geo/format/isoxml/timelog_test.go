package isoxml

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

// handWorked is five records put together by hand from ISO 11783-10, annex D (from
// memory), least significant byte first. 9:30 is 34,200,000 ms = 0x0209D9C0; 1 April
// 2027 is day 17,257 = 0x4369 after 1 January 1980; 37.7275 degrees south are
// -377,275,000 = 0xE9833D88; 145.321 east are 1,453,210,000 = 0x569E3990; 1,185 kg/ha
// are 118,500 mg/m² = 0x0001CEE4.
const handWorked = "c0d90902 6943 883d83e9 90399e56 04 02 00 e4ce0100 02 d8ffffff" + // both values, fixed by real-time kinematics
	"a8dd0902 6943 243d83e9 583a9e56 04 00" + // nothing changed
	"90e10902 6943 c03c83e9 203b9e56 05 01 00 80000200" + // 131,200
	"78e50902 6943 00000000 00000000 00 01 00 00000000" + // no fix
	"60e90902 6943 f83b83e9 b03c9e56 01 02 00 60ea0000 02 19000000" // 60,000 and 25

const logTask = `<ISO11783_TaskData VersionMajor="4" VersionMinor="2" DataTransferOrigin="2">
<DVC A="DVC-1"><DET A="DET-1" D="Spreader"/><DET A="DET-2" D="Boom"/></DVC>
<TSK A="TSK1" B="Compost, spring" G="4"><TLG A="TLG00001" C="1"/></TSK></ISO11783_TaskData>`

const logHead = `<TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="0007" B="" C="DET-2"/><DLV A="0006" B="120000" C="DET-2"/><DLV A="018D" B="" C="DET-1"/></TIM>`

func records(t testing.TB, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	require.NoError(t, err)
	return b
}

func logFiles(t testing.TB, head, bin string) map[string][]byte {
	return map[string][]byte{mainFile: []byte(logTask), "TLG00001.xml": []byte(head), "TLG00001.bin": records(t, bin)}
}

// A value holds until it is written down again; one of the head holds for all; a
// record without a position is left out, but what it says of values holds.
func TestReadLogs_HandWorked(t *testing.T) {
	logs, notices, err := ReadLogs(logFiles(t, logHead, handWorked))
	require.NoError(t, err)
	require.Empty(t, notices)
	require.Len(t, logs, 1)
	l := logs[0]
	require.Equal(t, []any{"Compost, spring", "TLG00001.bin", 1}, []any{l.Task, l.File, l.NoPlace})
	require.Equal(t, []orb.Point{{145.321, -37.7275}, {145.32102, -37.72751}, {145.32104, -37.72752}, {145.32108, -37.72754}}, l.Places)
	require.Equal(t, []LogColumn{
		{DDI: 7, Element: "Boom", Stored: []float64{118500, 118500, 131200, 60000}},
		{DDI: 6, Element: "Boom", Stored: []float64{120000, 120000, 120000, 120000}},
		{DDI: 0x18D, Element: "Spreader", Stored: []float64{-40, -40, -40, 25}},
	}, l.Columns)
}

// What the open reader isoxml 1.11.2 makes of the same records in a zip, kept in
// testdata/log-reader.json by testdata/logreader.cjs. It leaves out values of the
// head.
func TestReadLogZip_IndependentReader(t *testing.T) {
	b, err := os.ReadFile("testdata/log-reader.json")
	require.NoError(t, err)
	var results map[string]struct {
		Warnings []string
		Logs     []struct {
			Columns [][]any
			Records [][]any
		}
	}
	require.NoError(t, json.Unmarshal(b, &results))
	name := "timelog-v4.zip"
	file, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	require.Equal(t, records(t, handWorked), unzip(t, file)["TASKDATA/TLG00001.bin"])
	logs, _, err := ReadLogZip(bytes.NewReader(file), int64(len(file)), format.Limits{})
	require.NoError(t, err)
	require.Empty(t, results[name].Warnings)
	require.Len(t, results[name].Logs, 1)
	theirs, ours, at := results[name].Logs[0], logs[0], 0
	for _, r := range theirs.Records {
		if valid, _ := r[1].(bool); !valid {
			continue
		}
		require.InDelta(t, r[2], ours.Places[at][0], 1e-9)
		require.InDelta(t, r[3], ours.Places[at][1], 1e-9)
		values := r[4].(map[string]any)
		for k, c := range theirs.Columns {
			require.EqualValues(t, c[0], ours.Columns[k].DDI)
			if want, ok := values[c[2].(string)]; ok {
				require.EqualValues(t, want, ours.Columns[k].Stored[at])
			}
		}
		at++
	}
	require.Equal(t, len(ours.Places), at)
}

// All fields of a position are passed over in their order and length.
func TestReadLogs_WholePosition(t *testing.T) {
	head := `<TIM A="" D="4"><PTN A="" B="" C="" D="" E="" F="" G="" H="" I=""/><DLV A="0002" B=""/></TIM>`
	bin := "c0d90902 6943 883d83e9 90399e56 a0860100 04 0c00 0800 0c c0d90902 6943 01 00 a0252600" // 2,500,000: 250 l/ha
	logs, _, err := ReadLogs(logFiles(t, head, bin))
	require.NoError(t, err)
	require.Equal(t, []orb.Point{{145.321, -37.7275}}, logs[0].Places)
	require.Equal(t, []float64{2500000}, logs[0].Columns[0].Stored)
	// Without a position of its own a log has no points.
	logs, _, err = ReadLogs(logFiles(t, `<TIM A="" D="4"><PTN A="-37.7" B="145.3"/><DLV A="0002" B=""/></TIM>`, "c0d90902 6943 01 00 a0252600"))
	require.NoError(t, err)
	require.Equal(t, 1, logs[0].NoPlace)
	require.Empty(t, logs[0].Places)
}

func TestReadLogs_Odd(t *testing.T) {
	cut, notices, err := ReadLogs(logFiles(t, logHead, handWorked[:len(handWorked)-4]))
	require.NoError(t, err)
	require.Len(t, cut[0].Places, 3)
	require.Len(t, notices, 1)
	require.Contains(t, notices[0].Text, "cut short")
	early, _, err := ReadLogs(logFiles(t, logHead, "c0d90902 6943 883d83e9 90399e56 04 00"))
	require.NoError(t, err)
	require.True(t, math.IsNaN(early[0].Columns[0].Stored[0]), "not written down yet")

	missing := logFiles(t, logHead, handWorked)
	delete(missing, "TLG00001.bin")
	kind := logFiles(t, logHead, handWorked)
	kind[mainFile] = bytes.Replace(kind[mainFile], []byte(`C="1"`), []byte(`C="2"`), 1)
	broken := logFiles(t, logHead, handWorked)
	broken[mainFile] = broken[mainFile][:60]
	for says, files := range map[string]map[string][]byte{
		"there is no TASKDATA.XML":         {},
		"the files of the log are missing": missing,
		"a log of a kind":                  kind,
		"not well-formed":                  broken,
		"no time of their own":             logFiles(t, strings.Replace(logHead, `A="" D="4"`, `D="4"`, 1), ""),
		"not an entry of the data":         logFiles(t, strings.Replace(logHead, "0007", "xyz", 1), ""),
		"not a whole number of 32 bits":    logFiles(t, strings.Replace(logHead, "120000", "12e9", 1), ""),
		"head of the log does not have":    logFiles(t, logHead, "c0d90902 6943 883d83e9 90399e56 04 01 03 00000000"),
		"not what its name says":           logFiles(t, `<TLG/>`, ""),
	} {
		_, _, err := ReadLogs(files)
		require.ErrorContains(t, err, says)
	}
	_, _, err = ReadLogZip(strings.NewReader("no zip"), 6, format.Limits{})
	require.ErrorContains(t, err, "not a zip")
	var head strings.Builder
	head.WriteString(`<TIM A=""><PTN A="" B=""/>`)
	for k := range 250 {
		fmt.Fprintf(&head, `<DLV A="%04X" B=""/>`, k)
	}
	head.WriteString("</TIM>")
	long := logFiles(t, head.String(), "")
	long["TLG00001.bin"] = bytes.Repeat(records(t, "c0d90902 6943 883d83e9 90399e56 00"), mostLogValues/250+1)
	_, _, err = ReadLogs(long)
	require.ErrorIs(t, err, format.ErrTooLarge)
}

func FuzzReadLogs(f *testing.F) {
	f.Add([]byte(logHead), records(f, handWorked))
	f.Add([]byte(`<TIM A=""><PTN A="" B="" C="" D="" E="" F="" G="" H="" I=""/><DLV A="0002" B=""/></TIM>`), records(f, handWorked))
	f.Fuzz(func(t *testing.T, head, bin []byte) {
		logs, _, err := ReadLogs(map[string][]byte{mainFile: []byte(logTask), "TLG00001.xml": head, "TLG00001.bin": bin})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		for _, c := range logs[0].Columns {
			require.Len(t, c.Stored, len(logs[0].Places))
		}
		for _, p := range logs[0].Places {
			require.True(t, math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90)
		}
	})
}

package nmea

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
)

// The sentence that descriptions of NMEA 0183 give as their example of GGA, with
// its check sum (from memory): 48° 07.038' N, 11° 31.000' E.
const example = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"

func sentence(body string) string {
	var x byte
	for i := range len(body) {
		x ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, x)
}

func TestRead_Positions(t *testing.T) {
	text := example + "\r\n" +
		sentence("GNGGA,091201.50,3506.00000,S,12124.0000,W,4,17,0.6,212.1,M,46.9,M,1.0,0001") +
		sentence("GNGGA,091202.00,3506.00000,S,12124.0000,W,5,17,0.6,212.1,M,46.9,M,1.0,0001")
	layers, notices, err := Read(strings.NewReader(text), Options{})
	require.NoError(t, err)
	require.Empty(t, notices)
	f := layers[0].Features
	require.Len(t, f, 3)
	require.InDelta(t, 48+7.038/60, f[0].Geometry.(orb.Point)[1], 1e-12)
	require.InDelta(t, 11+31.0/60, f[0].Geometry.(orb.Point)[0], 1e-12)
	require.Equal(t, "single", f[0].Get("fix"))
	require.Equal(t, "12:35:19", f[0].Get("time"))
	require.Equal(t, 8.0, f[0].Get("satellites"))
	require.Equal(t, 0.9, f[0].Get("hdop"))
	require.Equal(t, 545.4, f[0].Get("height_m"))
	require.InDelta(t, -35.1, f[1].Geometry.(orb.Point)[1], 1e-12)
	require.InDelta(t, -121.4, f[1].Geometry.(orb.Point)[0], 1e-12)
	require.Equal(t, "fix", f[1].Get("fix"))
	require.Equal(t, "float", f[2].Get("fix"))
}

// What does not agree with its check sum, has no fix or is another sentence is
// left out, and each line is named.
func TestRead_LeavesOut(t *testing.T) {
	text := example + "\n" + strings.Replace(example, "4807", "4808", 1) + "\n" + example[:40] + "\n" +
		sentence("GPGGA,123519,,,,,0,00,,,M,,M,,") + sentence("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W") +
		sentence("GPGGA,123519,4867.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")
	layers, notices, err := Read(strings.NewReader(text), Options{})
	require.NoError(t, err)
	require.Len(t, layers[0].Features, 1)
	var got []string
	for _, n := range notices {
		got = append(got, n.String())
	}
	require.Equal(t, []string{
		"lines 2, 3: the check sum is missing or does not agree; left out",
		"line 4: no fix; left out",
		"line 5: another sentence than GGA; left out",
		"line 6: not a place; left out",
	}, got)
	_, _, err = Read(strings.NewReader(strings.Replace(example, "4807", "4808", 1)), Options{})
	require.ErrorContains(t, err, "no position in the file")
	_, _, err = Read(strings.NewReader("$GPGGA,"+strings.Repeat("1", 5000)), Options{})
	require.ErrorContains(t, err, "a line is too long")
}

func TestLooks(t *testing.T) {
	require.True(t, Looks([]byte("\ufeff\r\n"+example)))
	require.False(t, Looks([]byte("$price,1")))
	require.False(t, Looks([]byte("block,row")))
	require.False(t, Looks(nil))
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(example))
	f.Add([]byte(sentence("GNGGA,091201.50,3506.00000,S,12124.0000,W,4,17,0.6,212.1,M,46.9,M,1.0,0001")))
	f.Fuzz(func(t *testing.T, b []byte) {
		layers, _, err := Read(bytes.NewReader(b), Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err != nil {
			return
		}
		for _, x := range layers[0].Features {
			p := x.Geometry.(orb.Point)
			require.True(t, p[0] >= -180 && p[0] <= 180 && p[1] >= -90 && p[1] <= 90)
		}
	})
}

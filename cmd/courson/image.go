package main

import (
	"courson/server/work"
)

// imageFlags say how an image is to be read.
type imageFlags struct {
	Index     string    `enum:"band,ndvi,ratio" default:"band" help:"Of an image: the band itself, or an index of two bands: ${enum}."`
	Band      int       `placeholder:"N" default:"1" help:"Of an image: the band; near infrared of an index."`
	Red       int       `placeholder:"N" help:"Of an image: the red band of an index."`
	NoValue   []float64 `placeholder:"NUMBER" help:"Of an image: a stored number that means no value, where the file does not say."`
	NoBeyond  bool      `help:"Of an image of an index: values beyond -1 to 1 are no values."`
	Factor    float64   `placeholder:"NUMBER" help:"Of an image: value = stored number x this, where the file does not say: 0.0001."`
	Add       float64   `placeholder:"NUMBER" help:"Of an image: added to that."`
	HalfStrip float64   `placeholder:"M" help:"Of an image: how far the strip of vines reaches to each side of the row, so that the alley stays out; without it half the row spacing."`
	Sensor    string    `placeholder:"NAME" help:"Of an image: what took it, as the map names it beside the day."`
	MapLayer  bool      `negatable:"" default:"true" help:"Of an image: keep it as a layer of the map too."`
	Sure      bool      `help:"Of an image: its numbers are as they should be; ask nothing."`
}

func (f imageFlags) answers() work.ImageAnswers {
	index := f.Index
	if index == "band" {
		index = ""
	}
	return work.ImageAnswers{Index: index, Band: f.Band, Red: f.Red, NoValue: f.NoValue, NoBeyond: f.NoBeyond, Factor: f.Factor, Add: f.Add,
		HalfStripM: f.HalfStrip, Sensor: f.Sensor, NoLayer: !f.MapLayer, Sure: f.Sure}
}

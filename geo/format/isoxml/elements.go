package isoxml

import "encoding/xml"

// The elements of TASKDATA.XML that we write and read. Attributes are single
// letters in the standard; their meaning stands beside them.

type xmlRoot struct {
	XMLName  xml.Name `xml:"ISO11783_TaskData"`
	Major    string   `xml:"VersionMajor,attr"`
	Minor    string   `xml:"VersionMinor,attr"`
	Maker    string   `xml:"ManagementSoftwareManufacturer,attr"`
	Version  string   `xml:"ManagementSoftwareVersion,attr"`
	Origin   string   `xml:"DataTransferOrigin,attr"` // 1: from the office
	Customer []xmlCTR `xml:"CTR"`
	Farm     []xmlFRM `xml:"FRM"`
	Product  []xmlPDT `xml:"PDT"`
	Shown    []xmlVPN `xml:"VPN"`
	Field    []xmlPFD `xml:"PFD"`
	Task     []xmlTSK `xml:"TSK"`
}

type xmlCTR struct {
	A string `xml:",attr"` // id
	B string `xml:",attr"` // name
}

type xmlFRM struct {
	A string `xml:",attr"`           // id
	B string `xml:",attr"`           // name
	I string `xml:",attr,omitempty"` // customer
}

type xmlPDT struct {
	A string `xml:",attr"` // id
	B string `xml:",attr"` // name
}

type xmlVPN struct {
	A string `xml:",attr"`           // id
	B string `xml:",attr"`           // offset
	C string `xml:",attr"`           // scale
	D string `xml:",attr"`           // decimals
	E string `xml:",attr,omitempty"` // unit
}

type xmlPFD struct {
	A   string   `xml:",attr"`           // id
	C   string   `xml:",attr"`           // name
	D   string   `xml:",attr"`           // area, m²
	E   string   `xml:",attr,omitempty"` // customer
	F   string   `xml:",attr,omitempty"` // farm
	PLN []xmlPLN `xml:"PLN"`
}

type xmlPLN struct {
	A   string   `xml:",attr"`           // 1 boundary, 2 treatment zone
	B   string   `xml:",attr,omitempty"` // name
	C   string   `xml:",attr,omitempty"` // area, m²
	LSG []xmlLSG `xml:"LSG"`
}

type xmlLSG struct {
	A   string   `xml:",attr"` // 1 outer ring, 2 hole
	PNT []xmlPNT `xml:"PNT"`
}

type xmlPNT struct {
	A string `xml:",attr"`           // 2: of no special kind
	C string `xml:",attr"`           // latitude
	D string `xml:",attr"`           // longitude
	E string `xml:",attr,omitempty"` // height, mm
}

type xmlTSK struct {
	A   string   `xml:",attr"`           // id
	B   string   `xml:",attr,omitempty"` // name
	C   string   `xml:",attr,omitempty"` // customer
	D   string   `xml:",attr,omitempty"` // farm
	E   string   `xml:",attr,omitempty"` // field
	G   string   `xml:",attr"`           // status, 1: planned
	H   string   `xml:",attr,omitempty"` // zone where nothing else holds
	I   string   `xml:",attr,omitempty"` // zone where the position is lost
	J   string   `xml:",attr,omitempty"` // zone outside the field
	TZN []xmlTZN `xml:"TZN"`
	GRD []xmlGRD `xml:"GRD"`
}

type xmlTZN struct {
	A   string   `xml:",attr"`           // code
	B   string   `xml:",attr,omitempty"` // name
	C   string   `xml:",attr,omitempty"` // colour
	PLN []xmlPLN `xml:"PLN"`
	PDV []xmlPDV `xml:"PDV"`
}

type xmlPDV struct {
	A string `xml:",attr"`           // entry of the data dictionary, four hex digits
	B string `xml:",attr"`           // whole number
	C string `xml:",attr,omitempty"` // product
	D string `xml:",attr,omitempty"` // device element
	E string `xml:",attr,omitempty"` // how it is shown
}

type xmlGRD struct {
	A string `xml:",attr"`           // south edge
	B string `xml:",attr"`           // west edge
	C string `xml:",attr"`           // height of a cell, degrees
	D string `xml:",attr"`           // width of a cell, degrees
	E string `xml:",attr"`           // columns
	F string `xml:",attr"`           // rows
	G string `xml:",attr"`           // file without suffix
	H string `xml:",attr,omitempty"` // bytes
	I string `xml:",attr"`           // type
	J string `xml:",attr,omitempty"` // zone of type 2
}

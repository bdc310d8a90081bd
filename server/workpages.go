package server

import "net/http"

// getWorkPage answers /work with the page of crews, orders and progress; season
// and operation stand in the part of the address that browsers keep to
// themselves.
func (s *Server) getWorkPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "work.html")
}

// getZonesPage answers /zones with the page of zones and rates of a block, named as
// for the report.
func (s *Server) getZonesPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "zones.html")
}

// getPeoplePage answers /people with the page of users, crew links, tokens and the
// log of changes. Everybody may open it: it shows what its reader may do, at the
// least the own password and the way out.
func (s *Server) getPeoplePage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "people.html")
}

// getImportPage answers /import with the page that takes files in.
func (s *Server) getImportPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "import.html")
}

// getOrderSheets answers /print/orders with the page that prints orders for crews
// without phones. Which season, day and crew is in the query, which the page
// reads itself.
func (s *Server) getOrderSheets(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "work/sheets.html")
}

// getGroundPage answers /ground with the page on which blocks are drawn, filled with
// rows and numbered.
func (s *Server) getGroundPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "ground.html")
}

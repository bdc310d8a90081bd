package server

import (
	"net/http"

	"courson/server/access"
)

// mostAccess is how long a request about users, tokens or links may be, bytes.
const mostAccess = 16 << 10

// getUsers answers /api/users.
func (s *Server) getUsers(w http.ResponseWriter, r *http.Request) error {
	list, err := s.gate.Users(r.Context())
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"users": list})
}

// getUser answers /api/users/{name}.
func (s *Server) getUser(w http.ResponseWriter, r *http.Request) error {
	u, err := s.gate.User(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, u)
}

// putUser takes /api/users/{name}: a new user, another role, a new password.
func (s *Server) putUser(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Role     access.Role `json:"role"`
		Crew     string      `json:"crew"`
		Password string      `json:"password"`
	}
	if err := readJSON(w, r, mostAccess, &in); err != nil {
		return err
	}
	u, made, err := s.gate.SaveUser(r.Context(), askerOf(r.Context()).Name,
		access.UserChange{Name: r.PathValue("name"), Role: in.Role, Crew: in.Crew, Password: in.Password})
	if err != nil {
		return refuseAccess(w, err)
	}
	if made {
		return s.sendCreated(w, r, u)
	}
	return s.sendJSON(w, r, u)
}

// deleteUser takes away the user of /api/users/{name}.
func (s *Server) deleteUser(w http.ResponseWriter, r *http.Request) error {
	return done(w, s.gate.RemoveUser(r.Context(), askerOf(r.Context()).Name, r.PathValue("name")))
}

// done answers 204 where nothing went wrong.
func done(w http.ResponseWriter, err error) error {
	if err == nil {
		w.WriteHeader(http.StatusNoContent)
	}
	return err
}

// getTokens answers /api/tokens.
func (s *Server) getTokens(w http.ResponseWriter, r *http.Request) error {
	list, err := s.gate.Tokens(r.Context())
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"tokens": list})
}

// tokenMade is the one answer that shows a token.
type tokenMade struct {
	access.Token
	Secret string `json:"token"`
}

// postTokens takes /api/tokens.
func (s *Server) postTokens(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Name string      `json:"name"`
		Role access.Role `json:"role"`
		Days int         `json:"days"`
	}
	if err := readJSON(w, r, mostAccess, &in); err != nil {
		return err
	}
	a := askerOf(r.Context())
	t, secret, err := s.gate.MakeToken(r.Context(), a.Name, in.Name, in.Role, in.Days)
	if err != nil {
		return refuseAccess(w, err)
	}
	a.target = "token " + t.Name
	return s.sendCreated(w, r, tokenMade{t, secret})
}

// deleteToken revokes the token of /api/tokens/{id}.
func (s *Server) deleteToken(w http.ResponseWriter, r *http.Request) error {
	a := askerOf(r.Context())
	t, err := s.gate.RevokeToken(r.Context(), a.Name, r.PathValue("id"))
	if err == nil {
		a.target = "token " + t.Name
	}
	return done(w, err)
}

// getCrewLinks answers /api/crew-links.
func (s *Server) getCrewLinks(w http.ResponseWriter, r *http.Request) error {
	list, err := s.gate.Links(r.Context())
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"links": list})
}

// linkMade is the one answer that shows a link.
type linkMade struct {
	access.Link
	Path string `json:"path"` // to be opened on the phone
	URL  string `json:"url"`  // the same with the server's address
}

// postCrewLinks takes /api/crew-links.
func (s *Server) postCrewLinks(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Crew  string `json:"crew"`
		Hours int    `json:"hours"`
		Days  int    `json:"days"`
	}
	if err := readJSON(w, r, mostAccess, &in); err != nil {
		return err
	}
	a := askerOf(r.Context())
	l, code, err := s.gate.MakeLink(r.Context(), a.Name, in.Crew, in.Hours, in.Days)
	if err != nil {
		return refuseAccess(w, err)
	}
	a.target = "link for crew " + l.Crew
	path := "/join#" + code
	return s.sendCreated(w, r, linkMade{l, path, s.ownURL(r) + path})
}

// deleteCrewLink withdraws the link of /api/crew-links/{id}, and its device.
func (s *Server) deleteCrewLink(w http.ResponseWriter, r *http.Request) error {
	a := askerOf(r.Context())
	l, err := s.gate.WithdrawLink(r.Context(), a.Name, r.PathValue("id"))
	if err == nil {
		a.target = "link for crew " + l.Crew
		if l.Device != "" {
			a.target += ", phone " + l.Device
		}
	}
	return done(w, err)
}

// getAudit answers /api/audit?day=: who changed what on a day (UTC).
func (s *Server) getAudit(w http.ResponseWriter, r *http.Request) error {
	day, list, err := s.gate.Acts(r.Context(), r.URL.Query().Get("day"))
	if err != nil {
		return refuseAccess(w, err)
	}
	days, err := s.gate.Days(r.Context())
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"day": day, "days": days, "acts": list})
}

package server

import (
	"bytes"
	"errors"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"courson/server/access"
)

// mostSignIn is how long a sign-in may be, bytes.
const mostSignIn = 8 << 10

// cookieName is that of the session's cookie. Over https no other site and no
// other port of this machine can set it (prefix __Host-, RFC 6265bis).
func (s *Server) cookieName(r *http.Request) string {
	if s.https(r) {
		return "__Host-courson"
	}
	return "courson"
}

// https tells whether the client speaks https, with us or with our proxy.
func (s *Server) https(r *http.Request) bool {
	return r.TLS != nil || strings.HasPrefix(s.cfg.PublicURL, "https://")
}

// setCookie hands out a session; no script can read it, and no other site's page
// sends it with a write.
func (s *Server) setCookie(w http.ResponseWriter, r *http.Request, p access.Pass) {
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(r), Value: p.Secret, Path: "/", HttpOnly: true, Secure: s.https(r),
		SameSite: http.SameSiteLaxMode, Expires: p.Until.UTC(), MaxAge: max(1, int(p.Until.Sub(s.cfg.Now()).Seconds()))})
}

func (s *Server) dropCookie(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(r), Path: "/", HttpOnly: true, Secure: s.https(r),
		SameSite: http.SameSiteLaxMode, MaxAge: -1})
}

// refuseAccess turns errors of the gate into answers.
func refuseAccess(w http.ResponseWriter, err error) error {
	var (
		input *access.InputError
		limit *access.LimitError
	)
	switch {
	case errors.As(err, &limit):
		w.Header().Set("Retry-After", strconv.Itoa(limit.Seconds()))
		return refuse(http.StatusTooManyRequests, "", "%v", limit)
	case errors.As(err, &input):
		return refuse(http.StatusUnprocessableEntity, input.Field, "%v", input)
	case errors.Is(err, access.ErrSignIn):
		return refuse(http.StatusUnauthorized, "", "%v", err)
	case errors.Is(err, access.ErrJoin):
		return refuse(http.StatusForbidden, "code", "%v", err)
	}
	return err
}

// meJSON is who asks.
type meJSON struct {
	Name string      `json:"name"`
	Role access.Role `json:"role"`
	Crew string      `json:"crew"`
}

func (s *Server) sendMe(w http.ResponseWriter, r *http.Request, who access.Who) error {
	w.Header().Set("Cache-Control", "no-store")
	return s.sendJSON(w, r, meJSON{who.Name, who.Role, who.Crew})
}

// getMe answers /api/me.
func (s *Server) getMe(w http.ResponseWriter, r *http.Request) error {
	return s.sendMe(w, r, askerOf(r.Context()).Who)
}

// signIn begins a session and ends the one that the browser had.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request, pattern, name, password string) (access.Pass, error) {
	p, err := s.gate.SignIn(r.Context(), s.placeOf(r), name, password)
	if errors.Is(err, access.ErrSignIn) {
		s.noteFailed(r, pattern, name)
	}
	if err != nil {
		return p, err
	}
	if err := s.endPresent(r, false); err != nil {
		return p, err
	}
	s.note(r, p.Who, pattern, "", http.StatusOK)
	s.setCookie(w, r, p)
	return p, nil
}

// noteFailed writes down that a password was wrong. A name is named only where
// there is such a user, since people type passwords into the wrong field; the work
// is the same either way, so that nothing can be learnt from the time it takes.
func (s *Server) noteFailed(r *http.Request, pattern, name string) {
	who := access.Who{}
	if u, err := s.gate.User(r.Context(), name); err == nil {
		who.Name, who.Role = u.Name, u.Role
	}
	s.note(r, who, pattern, "", http.StatusUnauthorized)
}

// endPresent ends the session of the request's cookie, if there is one.
func (s *Server) endPresent(r *http.Request, everywhere bool) error {
	c, err := r.Cookie(s.cookieName(r))
	if err != nil {
		return nil
	}
	return s.gate.SignOut(r.Context(), c.Value, everywhere)
}

// postSignIn takes /api/signin.
func (s *Server) postSignIn(w http.ResponseWriter, r *http.Request) error {
	var in struct{ Name, Password string }
	if err := readJSON(w, r, mostSignIn, &in); err != nil {
		return err
	}
	p, err := s.signIn(w, r, "/api/signin", in.Name, in.Password)
	if err != nil {
		return refuseAccess(w, err)
	}
	return s.sendMe(w, r, p.Who)
}

// postSignOut takes /api/signout; with {"everywhere": true} all sessions of the
// user end.
func (s *Server) postSignOut(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Everywhere bool `json:"everywhere"`
	}
	if r.ContentLength != 0 {
		if err := readJSON(w, r, mostSignIn, &in); err != nil {
			return err
		}
	}
	if err := s.endPresent(r, in.Everywhere); err != nil {
		return err
	}
	s.dropCookie(w, r)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// putMyPassword takes /api/me/password. All other sessions end.
func (s *Server) putMyPassword(w http.ResponseWriter, r *http.Request) error {
	var in struct{ Now, New string }
	if err := readJSON(w, r, mostSignIn, &in); err != nil {
		return err
	}
	p, err := s.gate.ChangePassword(r.Context(), s.placeOf(r), askerOf(r.Context()).Who, in.Now, in.New)
	if err != nil {
		return refuseAccess(w, err)
	}
	s.setCookie(w, r, p)
	return s.sendMe(w, r, p.Who)
}

// postJoin takes /api/join: it binds the device to a crew's link.
func (s *Server) postJoin(w http.ResponseWriter, r *http.Request) error {
	var in struct{ Code, Device string }
	if err := readJSON(w, r, mostSignIn, &in); err != nil {
		return err
	}
	p, err := s.gate.Join(r.Context(), s.placeOf(r), in.Code, in.Device)
	if err != nil {
		return refuseAccess(w, err)
	}
	if err := s.endPresent(r, false); err != nil {
		return err
	}
	s.note(r, p.Who, "/api/join", "", http.StatusOK)
	s.setCookie(w, r, p)
	return s.sendMe(w, r, p.Who)
}

// getSignInPage answers /signin.
func (s *Server) getSignInPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "signin.html")
}

// getJoinPage answers /join. The code stands behind a #, which browsers send to
// nobody.
func (s *Server) getJoinPage(w http.ResponseWriter, r *http.Request) error {
	return s.sendPage(w, r, "join.html")
}

// postSignInPage takes the form of the sign-in page from browsers without
// JavaScript. That the form was ours is seen by where the request is from
// (http.CrossOriginProtection).
func (s *Server) postSignInPage(w http.ResponseWriter, r *http.Request) error {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/x-www-form-urlencoded" {
		return refuse(http.StatusUnsupportedMediaType, "", "send the form of the sign-in page, not %q", r.Header.Get("Content-Type"))
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostSignIn)
	if err := r.ParseForm(); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return err
		}
		return refuse(http.StatusBadRequest, "", "the form cannot be read")
	}
	_, err := s.signIn(w, r, "/signin", r.PostForm.Get("name"), r.PostForm.Get("password"))
	if err != nil {
		return s.signInAgain(w, r, refuseAccess(w, err))
	}
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, placeAfter(r.URL.Query().Get("then")), http.StatusSeeOther)
	return nil
}

// signInAgain shows the form with what went wrong.
func (s *Server) signInAgain(w http.ResponseWriter, r *http.Request, err error) error {
	var no *refusal
	p, ok := s.pages["signin.html"]
	if !ok || !errors.As(err, &no) {
		return err
	}
	part := "wrong"
	if no.status == http.StatusTooManyRequests {
		part = "often"
	}
	body := bytes.Replace(p.plain, []byte(`id="`+part+`" hidden`), []byte(`id="`+part+`"`), 1)
	h := w.Header()
	h.Set("Content-Type", p.contentType)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(no.status)
	_, _ = w.Write(body) // the caller may be gone: nobody left to tell
	return nil
}

// placeAfter gives where to go after signing in: a path of this server, nothing
// that a browser could take for another site.
func placeAfter(then string) string {
	const home = "/"
	if len(then) > 2000 || !strings.HasPrefix(then, "/") || strings.HasPrefix(then, "//") || strings.ContainsAny(then, "\\") {
		return home
	}
	for _, r := range then {
		if r < 0x20 || r == 0x7f {
			return home
		}
	}
	u, err := url.Parse(then)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(u.Path, "\\") {
		return home
	}
	return u.String()
}

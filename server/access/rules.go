package access

import (
	"net/http"
	"slices"
)

// Role says what somebody may do.
type Role string

// The roles. RoleOpen is everybody on this machine where there are no users.
const (
	RoleManager    Role = "manager"
	RoleAgronomist Role = "agronomist"
	RoleCrew       Role = "crew"
	RoleViewer     Role = "viewer"
	RoleOpen       Role = "open"
)

// Roles gives the roles that users have, the most powerful first.
func Roles() []Role { return []Role{RoleManager, RoleAgronomist, RoleViewer, RoleCrew} }

// Rule says who may use one route.
type Rule struct {
	Method, Pattern string
	Public          bool   // nobody needs to sign in
	Who             []Role // where not public
	Page            bool   // a page for people: who is not signed in is sent to the sign-in page
	Tries           bool   // works something out and keeps nothing: no change to note
}

// Allows tells whether a role may use the route.
func (r Rule) Allows(role Role) bool {
	return r.Public || role == RoleOpen || slices.Contains(r.Who, role)
}

// RuleOf finds the rule of a route; false where there is none: nobody may use it.
func RuleOf(method, pattern string) (Rule, bool) {
	for _, r := range Rules() {
		if r.Method == method && r.Pattern == pattern {
			return r, true
		}
	}
	return Rule{}, false
}

// Rules is the whole table.
func Rules() []Rule {
	var out []Rule
	add := func(method string, r Rule, patterns ...string) {
		for _, p := range patterns {
			r.Method, r.Pattern = method, p
			out = append(out, r)
		}
	}
	var (
		public   = Rule{Public: true}
		everyone = Rule{Who: Roles()}
		readers  = Rule{Who: []Role{RoleManager, RoleAgronomist, RoleViewer}}
		recorder = Rule{Who: []Role{RoleManager, RoleAgronomist, RoleCrew}}
		planners = Rule{Who: []Role{RoleManager, RoleAgronomist}}
		managers = Rule{Who: []Role{RoleManager}}
	)
	page := func(r Rule) Rule { r.Page = true; return r }
	tries := func(r Rule) Rule { r.Tries = true; return r }

	add(http.MethodGet, public, "/signin", "/join", "/assets/*", "/field/sw.js", "/field/app.webmanifest", "/healthz", "/readyz")
	add(http.MethodPost, public, "/signin", "/api/signin", "/api/join", "/api/signout")

	add(http.MethodGet, page(everyone), "/field", "/people")
	add(http.MethodGet, everyone, "/api/me", "/api/field")
	add(http.MethodPut, everyone, "/api/me/password")
	add(http.MethodPost, recorder, "/api/events")

	add(http.MethodGet, page(readers), "/", "/report", "/pruning", "/replants", "/zones", "/work", "/field/tags", "/print/orders")
	add(http.MethodGet, readers, readRoutes()...)
	add(http.MethodGet, page(planners), "/import")
	add(http.MethodGet, planners, "/api/imports", "/api/imports/done")
	add(http.MethodPost, tries(readers), "/api/pruning/renewal")

	add(http.MethodPut, planners, "/api/standards", "/api/findings/since", "/api/blocks/{block}/standards", "/api/blocks/{block}/pruning/overrides",
		"/api/vines/{id}/renewals", "/api/orders/{id}", "/api/progress/lost-day", "/api/materials")
	add(http.MethodPost, planners, "/api/blocks/{block}/pruning", "/api/findings", "/api/orders", "/api/blocks/{block}/replants/steps", "/api/weighings", "/api/reviews", "/api/imports", "/api/imports/{id}/undo",
		"/api/blocks/{block}/zones/kept")
	add(http.MethodPost, tries(planners), "/api/blocks/{block}/pruning/preview", "/api/blocks/{block}/replants/preview", "/api/blocks/{block}/replants/counts",
		"/api/orders/share", "/api/orders/weigh", "/api/blocks/{block}/zones", "/api/blocks/{block}/zones/{form}", "/api/blocks/{block}/zones/kept/{id}/applied", "/api/imports/try", "/api/imports/{id}/undo/try")
	add(http.MethodDelete, planners, "/api/orders/{id}", "/api/weighings/{id}", "/api/images/{id}", "/api/reviews/{id}")

	add(http.MethodPut, managers, "/api/crews/{name}", "/api/operations", "/api/progress/deadline", "/api/users/{name}")
	add(http.MethodGet, managers, "/api/users", "/api/users/{name}", "/api/tokens", "/api/crew-links", "/api/audit")
	add(http.MethodGet, page(managers), "/ground")
	add(http.MethodPost, managers, "/api/tokens", "/api/crew-links", "/api/blocks", "/api/blocks/{block}/rows", "/api/blocks/{block}/numbers",
		"/api/blocks/{block}/split", "/api/blocks/{block}/join")
	add(http.MethodPost, tries(managers), "/api/blocks/try", "/api/blocks/{block}/rows/try", "/api/blocks/{block}/numbers/try",
		"/api/blocks/{block}/split/try", "/api/blocks/{block}/join/try")
	add(http.MethodDelete, managers, "/api/crews/{name}", "/api/users/{name}", "/api/tokens/{id}", "/api/crew-links/{id}",
		"/api/blocks/{block}/ground/{id}")
	return out
}

// readRoutes is what whoever may read may read.
func readRoutes() []string {
	return []string{
		"/base/{z}/{x}/{y}",
		"/tiles/{season}", "/tiles/{season}/{z}/{x}/{y}", "/tiles/{theme}/{season}/{z}/{x}/{y}",
		"/ogc", "/ogc/", "/ogc/conformance", "/ogc/api", "/ogc/collections", "/ogc/collections/{collection}", "/ogc/collections/{collection}/schema",
		"/ogc/collections/{collection}/items", "/ogc/collections/{collection}/items/{id}",
		"/ogc/tileMatrixSets", "/ogc/tileMatrixSets/{scheme}", "/ogc/tiles", "/ogc/tiles/{scheme}", "/ogc/tiles/{scheme}/{matrix}/{row}/{col}", "/ogc/map/tiles",
		"/ogc/styles/{theme}/map/tiles", "/ogc/styles/{theme}/map/tiles/{scheme}", "/ogc/styles/{theme}/map/tiles/{scheme}/{matrix}/{row}/{col}",
		"/api/events", "/api/estate", "/api/legends", "/api/stream", "/api/openapi.json", "/metrics",
		"/api/blocks", "/api/blocks/{block}", "/api/blocks/{block}/ground", "/api/blocks/{block}/stand/{season}",
		"/api/blocks/{block}/weighing", "/api/blocks/{block}/weighing.csv", "/api/weighings", "/api/reviews",
		"/api/blocks/{block}/findings", "/api/blocks/{block}/findings.csv",
		"/api/standards", "/api/blocks/{block}/standards",
		"/api/blocks/{block}/pruning", "/api/blocks/{block}/pruning/compare",
		"/api/blocks/{block}/pruning/runs", "/api/blocks/{block}/pruning/runs.csv",
		"/api/blocks/{block}/pruning/practice", "/api/blocks/{block}/pruning/left",
		"/api/blocks/{block}/pruning/follow-ups", "/api/blocks/{block}/pruning/follow-ups.csv",
		"/api/blocks/{block}/pruning/renewals",
		"/api/blocks/{block}/zones", "/api/blocks/{block}/zones/compare", "/api/blocks/{block}/zones/kept/{id}", "/api/blocks/{block}/zones/kept/{id}/{form}",
		"/api/replants", "/api/replants.csv", "/api/replants.geojson", "/api/blocks/{block}/replants",
		"/api/findings", "/api/patches.csv", "/api/patches.geojson", "/api/change.csv",
		"/api/layers", "/api/layers/{layer}/{form}", "/api/layers/{layer}/style.sld",
		"/api/vines", "/api/vines/{id}", "/api/vines/{id}/pruning", "/api/vines/{id}/replants",
		"/api/crews", "/api/operations", "/api/orders", "/api/progress", "/api/progress.csv", "/api/checks", "/api/materials",
		"/api/images", "/api/images/{id}/tiles/{z}/{x}/{y}",
	}
}

package postgis_test

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const composeFile = "../../docker-compose.yml"

// composeSettings are what the file asks for.
var composeSettings = map[string]string{
	"COURSON_SITE": "vines.example.org", "COURSON_TLS": "internal", "COURSON_DB_PASSWORD": "s3cret",
}

// TestCompose_NoDefaults: nothing starts with a password that is not the
// estate's own, and only the proxy's ports are open.
func TestCompose_NoDefaults(t *testing.T) {
	raw, err := os.ReadFile(composeFile)
	require.NoError(t, err)
	var body []string
	for _, line := range strings.Split(string(raw), "\n") {
		if !strings.HasPrefix(strings.TrimSpace(line), "#") {
			body = append(body, line)
		}
	}
	text := strings.Join(body, "\n")
	asked := map[string]bool{}
	for _, use := range regexp.MustCompile(`(?:^|[^$])\$\{?(\w+)([^}\n]*)`).FindAllStringSubmatch(text, -1) {
		if strings.HasPrefix(use[1], "COURSON_") {
			assert.True(t, strings.HasPrefix(use[2], ":?"), "%s must be required", use[1])
			asked[use[1]] = true
		}
	}
	for name := range composeSettings {
		assert.True(t, asked[name] || strings.Contains(text, "{$$"+name+"}"), "%s is used", name)
	}
	for _, m := range regexp.MustCompile(`(?m)^\s+\w*(?:PASSWORD|SECRET)\w*:\s*(.+)$`).FindAllStringSubmatch(text, -1) {
		assert.Regexp(t, `^\$\{COURSON_\w+:\?`, m[1], "no password stands in the file")
	}
	assert.Equal(t, []string{`"80:80"`, `"443:443"`, `"443:443/udp"`}, regexp.MustCompile(`"\d+:\d+(?:/udp)?"`).FindAllString(text, -1))
	assert.Contains(t, text, `"--addr", "127.0.0.1:8480"`)
	assert.Contains(t, text, `network_mode: "service:proxy"`)
	assert.Contains(t, text, "COURSON_PUBLIC_URL: https://", "so that the server does not start without users")
	assert.NotContains(t, text, ":latest")
}

// TestCompose_Config lets the tool itself read the file, where it is present.
func TestCompose_Config(t *testing.T) {
	if err := exec.Command("docker", "compose", "version").Run(); err != nil {
		t.Skip("docker compose is not on this machine; the file's own rules were checked without it")
	}
	config := func(settings map[string]string) (string, error) {
		cmd := exec.Command("docker", "compose", "--env-file", os.DevNull, "-f", composeFile, "config")
		cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + t.TempDir()}
		for name, value := range settings {
			cmd.Env = append(cmd.Env, name+"="+value)
		}
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := config(composeSettings)
	require.NoError(t, err, out)
	assert.Contains(t, out, "vines.example.org")
	for name := range composeSettings {
		less := map[string]string{}
		for n, v := range composeSettings {
			if n != name {
				less[n] = v
			}
		}
		out, err := config(less)
		require.Error(t, err, "without %s", name)
		assert.Contains(t, out, name)
	}
}

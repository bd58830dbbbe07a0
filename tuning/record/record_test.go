package record

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quality"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/ident/trace"
	"eha/strokewise/tuning"
)

// hostile is text as a log or a machine file could hold it.
const hostile = `<script>alert(1)</script>"'&<img src=x onerror=alert(2)>`

func someWork(t *testing.T) *Work {
	t.Helper()
	p := somePlant()
	p.Machine.Name = hostile
	p.Logs[0].File = hostile
	p.Demo = true
	for _, param := range []plant.Param{plant.MovingMass, plant.CoulombFriction, plant.DriveBandwidth, plant.HydraulicFrequency} {
		p.Params[param] = param.Found(100, 95, 105, hostile)
	}
	p.Params[plant.StrokePerTurnRetract] = p.Params[plant.StrokePerTurnExtend]
	p.Model.Drive.AccelLimit = 5000
	p.Evidence.Friction = []plant.Point{{X: 0.1, Y: 500}, {X: -0.1, Y: -500}, {X: math.NaN(), Y: 1}, {X: math.Inf(1), Y: 1}}
	response := plant.FrequencyResponse{From: "motor_position", To: "rod_position", Position: 0.1}
	for i := range 30 {
		response.Omega = append(response.Omega, float64(i+1)*10)
		response.Measured = append(response.Measured, complex(1/float64(i+1), 0))
		response.Coherence = append(response.Coherence, 0.9)
		response.RelError = append(response.RelError, 0.1)
	}
	p.Evidence.Responses = []plant.FrequencyResponse{response}
	p.Evidence.HoldOut = []plant.Overlay{{Channel: "rod_speed", Period: 0.001, Measured: []float64{0, 1, 2}, Modeled: []float64{0, 1, 2}}}
	proposal, err := tuning.Propose(context.Background(), p, tuning.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	check := &quality.Report{Channels: []quality.Channel{{Log: hostile, Channel: trace.RodPosition, Column: hostile, Unit: "mm", Sure: 0.9, Why: hostile}},
		Findings: []quality.Finding{{ID: quality.WrongSign, Severity: quality.Stop, Log: hostile, Text: hostile, Do: hostile}}}
	return &Work{Plant: p, Proposal: proposal, Check: check, System: quantity.Metric, Version: "test", Command: hostile}
}

func recordPage(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteRecord(context.Background(), &b, someWork(t)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The record is one file that asks for nothing: no script, no address, no import.
func TestRecordIsSelfContained(t *testing.T) {
	html := recordPage(t)
	for _, m := range regexp.MustCompile(`<[a-zA-Z][^>]*>`).FindAllString(html, -1) { // the tags, with every attribute
		for _, banned := range []string{"<script", "src=", "href=", "http:", "https:", "onerror"} {
			if strings.Contains(m, banned) {
				t.Errorf("the record holds %s", m)
			}
		}
	}
	if strings.Contains(html, "@import") || strings.Contains(html, "url(http") {
		t.Error("the record's style asks for something outside")
	}
	if strings.Contains(html, "<img") {
		t.Error("text of a log became an element")
	}
	if !strings.Contains(html, "&lt;script&gt;alert(1)") {
		t.Error("the hostile text does not show as text")
	}
	if strings.Contains(html, "NaN") || strings.Contains(html, "Inf") {
		t.Error("a plot or a table holds NaN or Inf")
	}
}

// Each plot has a title, a description, and a caption; ids are unique, tables have headings, the demo says so.
func TestRecordIsAccessible(t *testing.T) {
	html := recordPage(t)
	plots := strings.Count(html, "<svg ")
	if plots < 5 {
		t.Fatalf("%d plots, expected the plant's and the simulated ones", plots)
	}
	for _, tag := range []string{"<title id=", "<desc id=", "<figcaption>"} {
		if n := strings.Count(html, tag); n != plots {
			t.Errorf("%d of %q for %d plots", n, tag, plots)
		}
	}
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(html, -1) {
		if seen[m[1]] {
			t.Errorf("id %q twice", m[1])
		}
		seen[m[1]] = true
	}
	if tables := strings.Count(html, "<table>"); strings.Count(html, `scope="row"`) < tables {
		t.Errorf("%d tables but fewer row headings", tables)
	}
	if !strings.Contains(html, DemoMark) {
		t.Error("the demo record does not say so")
	}
}

// TestRecordInBrowser opens the record in a real browser: nothing on the console,
// no request beyond the file, no sideways scrolling at phone width, and a PDF of
// several pages.
func TestRecordInBrowser(t *testing.T) {
	browser, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is not installed")
	}
	dir := t.TempDir()
	record := filepath.Join(dir, "record.html")
	if err := os.WriteFile(record, []byte(recordPage(t)), 0o600); err != nil {
		t.Fatal(err)
	}
	// The frame measures what the record itself, free of scripts, cannot say.
	const frame = `<!DOCTYPE html><iframe id="f" src="record.html" style="width:%dpx;height:800px;border:0"></iframe><pre id="out"></pre><script>
document.getElementById("f").onload = function () {
  var d = this.contentDocument.documentElement;
  document.getElementById("out").textContent = "scroll " + d.scrollWidth + " client " + d.clientWidth;
};</script>`
	for _, width := range []int{360, 1100} {
		path := filepath.Join(dir, fmt.Sprintf("frame%d.html", width))
		if err := os.WriteFile(path, []byte(fmt.Sprintf(frame, width)), 0o600); err != nil {
			t.Fatal(err)
		}
		dom, log := browse(t, browser, dir, "--allow-file-access-from-files", "--enable-logging=stderr", "--virtual-time-budget=10000", "--dump-dom", "file://"+path)
		var scroll, client int
		at := strings.Index(dom, "scroll ")
		if at < 0 {
			t.Fatalf("the frame measured nothing: %.300s", log)
		}
		if _, err := fmt.Sscanf(dom[at:], "scroll %d client %d", &scroll, &client); err != nil {
			t.Fatal(err)
		}
		if scroll > client {
			t.Errorf("at %d px the page is %d wide in a window of %d: it scrolls sideways", width, scroll, client)
		}
		if strings.Contains(log, "CONSOLE") {
			t.Errorf("console: %s", log)
		}
	}
	pdf := filepath.Join(dir, "record.pdf")
	browse(t, browser, dir, "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+record)
	info, err := os.Stat(pdf)
	if err != nil || info.Size() < 20000 {
		t.Fatalf("PDF: %v", err)
	}
	text, err := exec.Command("pdftotext", pdf, "-").Output()
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	pages := strings.Count(string(text), "\f")
	if marks := strings.Count(string(text), "DEMO MACHINE: invented"); pages < 3 || marks < pages {
		t.Errorf("%d pages carry the demo's mark %d times, want it on every one", pages, marks)
	}
}

func browse(t *testing.T, browser, dir string, args ...string) (stdout, stderr string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	base := []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--user-data-dir=" + filepath.Join(dir, "profile")}
	cmd := exec.CommandContext(ctx, browser, append(base, args...)...)
	var out, err bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &err
	if e := cmd.Run(); e != nil {
		t.Fatalf("chromium: %v: %.500s", e, err.String())
	}
	return out.String(), err.String()
}

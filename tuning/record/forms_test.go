package record

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"eha/strokewise/ident/plant"
	"eha/strokewise/ident/quantity"
	"eha/strokewise/tuning"
)

// A gain in another form stands with its law in the document and in the text.
func TestSettingFormsAreShown(t *testing.T) {
	p := someProposal()
	form := tuning.SettingForm{Loop: "force", Form: "rpm/bar", Text: "12.4 rpm/bar", Law: "motor speed in rpm = gain x error in bar"}
	p.Forms = []tuning.SettingForm{form}
	data, err := EncodeProposal(p, &plant.Plant{})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Forms []map[string]string `json:"setting_forms"`
	}
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Forms) != 1 || got.Forms[0]["form"] != form.Form || got.Forms[0]["text"] != form.Text || got.Forms[0]["law"] != form.Law || got.Forms[0]["loop"] != "force" {
		t.Errorf("setting_forms: %v", got.Forms)
	}
	var text bytes.Buffer
	if err := WriteTune(&text, p, &plant.Plant{}, quantity.Metric); err != nil {
		t.Fatal(err)
	}
	flat := strings.Join(strings.Fields(text.String()), " ")
	if !strings.Contains(flat, "force, rpm/bar: 12.4 rpm/bar (motor speed in rpm = gain x error in bar)") {
		t.Errorf("the text does not show the form:\n%s", text.String())
	}
}

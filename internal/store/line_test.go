package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The journal file can be checked without this program, as the package comment
// says: by sed, tr and sha256sum of any Unix.
func TestFileByOtherTools(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	push(t, s, append(notes(0, 5), noteText(5, "Ω \" \\ \n , \u2028 \"sha256\":\"0\"} 🔋"))...)
	path := filepath.Join(dir, journalName)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	prev := ""
	for i, text := range strings.Split(strings.TrimSuffix(string(data), "\n"), "\n") {
		var l struct {
			Seq                int
			Prev, Sha256       string
			Received_ms        int64
			Brought_by, Epoch  string
			Packwright, Format any
			Entry              json.RawMessage
		}
		if err := json.Unmarshal([]byte(text), &l); err != nil {
			t.Fatalf("line %d is no JSON: %v", i+1, err)
		}
		command := fmt.Sprintf(`sed -n %dp %s | sed 's/,"sha256":"[0-9a-f]*"}$//' | tr -d '\n' | sha256sum`, i+1, path)
		out, err := exec.Command("sh", "-c", command).Output()
		if err != nil {
			t.Skip("no sed, tr or sha256sum here: ", err)
		}
		if sum, _, _ := strings.Cut(string(out), " "); sum != l.Sha256 {
			t.Errorf("line %d: sha256sum says %s, the line %s", i+1, sum, l.Sha256)
		}
		if epoch, _ := s.Head(); i == 0 && (l.Packwright != "journal" || l.Format != 1.0 || l.Epoch != epoch) {
			t.Errorf("header is %s", text)
		}
		if i > 0 && (l.Seq != i || l.Prev != prev || l.Brought_by != "test" || len(l.Entry) == 0) {
			t.Errorf("line %d is %s", i+1, text)
		}
		prev = l.Sha256
	}
}

func FuzzLine(f *testing.F) {
	f.Add(uint64(7), int64(1764060000000), "phone", []byte(`{"a":1}`), uint16(3), byte(1))
	f.Add(^uint64(0), int64(-1), `","entry":{"`, []byte(`{"sha256":"x"}`), uint16(0), byte(0))
	f.Fuzz(func(t *testing.T, seq uint64, received int64, by string, entry []byte, at uint16, flip byte) {
		text, sum := appendLine(nil, seq, digest{1}, received, by, entry)
		l, err := parseLine(text[:len(text)-1])
		if err != nil || l.seq != seq || l.prev != (digest{1}) || l.sum != sum || l.receivedMS != received || !bytes.Equal(l.entry, entry) {
			t.Fatalf("%q comes back as %+v, %v", text, l, err)
		}
		item, err := l.item()
		if err != nil || item.BroughtBy != strings.ToValidUTF8(by, "\ufffd") && !strings.Contains(item.BroughtBy, "\ufffd") {
			t.Fatalf("%q comes back as %q, %v", by, item.BroughtBy, err)
		}
		if flip == 0 {
			return
		}
		text[int(at)%(len(text)-1)] ^= flip
		if _, err := parseLine(text[:len(text)-1]); err == nil {
			t.Fatalf("damage is not noticed: %q", text)
		}
	})
}

// Lines are found in the middle of anything, also right beside each other and
// beside broken ones.
func FuzzCarve(f *testing.F) {
	f.Add([]byte("rubbish"), []byte(`{"seq":1,"prev":"`), []byte("\n\n"), uint8(3))
	f.Add([]byte(`{"seq":`), []byte(`,"sha256":"`), []byte(`"}`), uint8(0))
	f.Fuzz(func(t *testing.T, before, between, after []byte, cut uint8) {
		one, sum := appendLine(nil, 1, digest{}, 5, "a", []byte(`{"sha256":"`+strings.Repeat("0", 64)+`"}`))
		two, _ := appendLine(nil, 2, sum, 5, "b", []byte(`{"x":2}`))
		data := bytes.Join([][]byte{before, one, between, two[:min(int(cut), len(two))], two, after}, nil)
		var found []uint64
		end := 0
		carve(data, func(l line, from, to int) {
			if from < end || !bytes.HasPrefix(data[from:to], l.text) {
				t.Fatalf("line %d at %d…%d after %d", l.seq, from, to, end)
			}
			end = to
			found = append(found, l.seq)
		})
		want := []uint64{1, 2}
		if int(cut) >= len(two)-1 {
			want = []uint64{1, 2, 2} // cut off no more than the newline
		}
		if fmt.Sprint(found) != fmt.Sprint(want) {
			t.Fatalf("found %v in %q", found, data)
		}
	})
}

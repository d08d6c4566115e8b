package logged

// table is the rows of readings found in the head of a file.
type table struct {
	delimiter, decimal string
	heads              []string // names of the columns, perhaps with units; empty where there are none
	firstRow           int      // line, from 1
	columns            int      // of most rows
	rows               int      // rows of readings
	score              float64  // rows, each times the share of its cells that can be read
	readable           []bool   // whether the column holds numbers or times in most rows
	sample             [][]string
}

// findTable tries every separator and decimal sign, and takes what reads the
// most; of equals the first, so a file of whole numbers has points.
func findTable(lines [][]byte) table {
	var best table
	for _, delimiter := range []string{"\t", ";", ","} {
		for _, decimal := range []string{".", ","} {
			if delimiter == decimal && !quoted(lines) {
				continue
			}
			t := table{delimiter: delimiter, decimal: decimal}
			t.scan(lines)
			if t.score > best.score {
				best = t
			}
		}
	}
	return best
}

// quoted tells whether cells stand in quotes, which may hold decimal commas.
func quoted(lines [][]byte) bool {
	for _, line := range lines {
		for _, c := range line {
			if c == '"' {
				return true
			}
		}
	}
	return false
}

// scan finds rows and head for the table's separator and decimal sign.
func (t *table) scan(lines [][]byte) {
	width := map[int]int{}
	for _, line := range lines {
		if c := cellsOf(line, t.delimiter[0]); t.countReadable(c) >= 2 {
			width[len(c)]++
		}
	}
	for w, n := range width {
		if n > width[t.columns] || n == width[t.columns] && w < t.columns {
			t.columns = w
		}
	}
	hits := make([]int, t.columns)
	for i, line := range lines {
		c := cellsOf(line, t.delimiter[0])
		n := t.countReadable(c)
		if n < 2 || len(c) != t.columns {
			continue
		}
		t.rows++
		t.score += float64(n) / float64(len(c))
		if t.firstRow == 0 {
			t.firstRow = i + 1
		}
		for k, text := range c {
			if t.reads(text) {
				hits[k]++
			}
		}
		if len(t.sample) < 200 {
			t.sample = append(t.sample, c)
		}
	}
	for _, h := range hits {
		t.readable = append(t.readable, 2*h > t.rows)
	}
	t.findHeads(lines)
}

// findHeads joins up to two lines above the rows: names, and perhaps units.
func (t *table) findHeads(lines [][]byte) {
	for i := t.firstRow - 2; i >= 0 && i >= t.firstRow-4; i-- {
		line := lines[i]
		for len(line) > 0 && (line[0] == '#' || line[0] == ' ') {
			line = line[1:]
		}
		c := cellsOf(line, t.delimiter[0])
		if len(c) < 2 || len(c) > t.columns || t.countReadable(c) > 0 || len(t.heads) > 0 && len(c) != len(t.heads) {
			return
		}
		if len(t.heads) == 0 {
			t.heads = c
			continue
		}
		for k := range c {
			t.heads[k] = c[k] + " " + t.heads[k]
		}
		return
	}
}

func (t *table) countReadable(row []string) int {
	n := 0
	for _, text := range row {
		if t.reads(text) {
			n++
		}
	}
	return n
}

// reads tells whether a cell is a number or a time.
func (t *table) reads(text string) bool {
	b := []byte(text)
	for _, u := range []TimeUnit{Seconds, HourMinSec, MinSec, ISO} {
		if _, ok := u.timeOf(b, t.decimal[0]); ok {
			return true
		}
	}
	return false
}

// cell is the text of a row of the sample, in that column from 1.
func (t *table) cell(row, column int) string { return t.sample[row][column-1] }

// values are the numbers of a column of the sample; none for column 0.
func (t *table) values(column int) []float64 {
	var out []float64
	for _, row := range t.sample {
		if column == 0 {
			break
		}
		if v, ok := number([]byte(row[column-1]), t.decimal[0]); ok {
			out = append(out, v)
		}
	}
	return out
}

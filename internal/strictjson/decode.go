// Package strictjson reads and writes the JSON of the journal and of the door
// between phone and core.
//
// Use Decode and Encode; Object is for text whose members are not those of one
// struct. Errors are *problem.Error.
//
// It is stricter than encoding/json, because an entry is kept for ever and is
// read by programs in other languages. It refuses unknown and repeated names,
// names in another case, null where a value is needed (JavaScript writes NaN as
// null), numbers that a float64 cannot hold, and text that I-JSON (RFC 7493)
// refuses: invalid UTF-8, U+0000 and lone surrogates. It also keeps
// encoding/json out of the phone's program, an eighth of what has to be
// downloaded. It knows the types that cross the door: structs with json tags,
// slices, pointers, strings, bool, int, int64, float64 and json.RawMessage.
package strictjson

import (
	"encoding/json"
	"reflect"
	"strconv"
	"strings"

	"packwright/internal/problem"
)

// Decode reads one JSON value into what into points to. Errors name the field
// by its path.
func Decode(raw []byte, into any) error {
	s, err := newScan(raw)
	if err != nil {
		return err
	}
	if err := s.value(reflect.ValueOf(into).Elem()); err != nil {
		return named(err)
	}
	return s.end()
}

// Object calls member with every name of a JSON object and the text of its
// value, in order. The text is part of raw. An error of member gets the name.
func Object(raw []byte, member func(name, value []byte) error) error {
	s, err := newScan(raw)
	if err != nil {
		return err
	}
	if err := s.object(func(name []byte) error {
		from := s.at
		if err := s.skip(); err != nil {
			return err
		}
		return member(name, s.raw[from:s.at])
	}); err != nil {
		return named(err)
	}
	return s.end()
}

// Text gives the text of a JSON string; ok is false where value is no string.
// value must be JSON, as Object gives it.
func Text(value []byte) (text string, ok bool) {
	if len(value) < 2 || value[0] != '"' {
		return "", false
	}
	return string(unquote(value)), true
}

var rawMessage = reflect.TypeFor[json.RawMessage]()

// value reads one value into a variable.
func (s *scan) value(into reflect.Value) error {
	from, c := s.at, s.peek()
	if into.Type() == rawMessage {
		if err := s.skip(); err != nil {
			return err
		}
		into.SetBytes(append([]byte{}, s.raw[from:s.at]...))
		return nil
	}
	switch kind := into.Kind(); {
	case kind == reflect.Pointer && c == 'n': // as good as absent
		return s.word("null")
	case kind == reflect.Pointer:
		if into.IsNil() {
			into.Set(reflect.New(into.Type().Elem()))
		}
		return s.value(into.Elem())
	case kind == reflect.Struct && c == '{':
		return s.fields(into)
	case kind == reflect.Slice && c == '[':
		into.Set(reflect.MakeSlice(into.Type(), 0, 4))
		return s.array(func() error {
			n := into.Len()
			into.Grow(1)
			into.SetLen(n + 1)
			return s.value(into.Index(n))
		})
	case kind == reflect.String && c == '"':
		if err := s.str(); err != nil {
			return err
		}
		into.SetString(string(unquote(s.raw[from:s.at])))
		return nil
	case kind == reflect.Bool && (c == 't' || c == 'f'):
		into.SetBool(c == 't')
		return s.skip()
	case kind == reflect.Float64 && isNumber(c):
		if err := s.number(); err != nil {
			return err
		}
		f, err := strconv.ParseFloat(string(s.raw[from:s.at]), 64)
		into.SetFloat(f)
		return err
	case (kind == reflect.Int || kind == reflect.Int64) && isNumber(c):
		if err := s.number(); err != nil {
			return err
		}
		n, err := strconv.ParseInt(string(s.raw[from:s.at]), 10, 64)
		if err != nil {
			return problem.New(problem.Invalid, "", "%s is not a whole number that fits here", s.raw[from:min(s.at, from+40)])
		}
		into.SetInt(n)
		return nil
	}
	if err := s.skip(); err != nil {
		return err
	}
	return problem.New(problem.Invalid, "give a value, or leave it out", "%s does not fit here", kindOf(c))
}

func isNumber(c byte) bool { return c == '-' || (c >= '0' && c <= '9') }

func kindOf(c byte) string {
	switch {
	case c == '{':
		return "an object"
	case c == '[':
		return "a list"
	case c == '"':
		return "a text"
	case isNumber(c):
		return "a number"
	case c == 'n':
		return "null"
	}
	return "true or false"
}

// fields reads an object into a struct. Names mostly come in the order of the
// fields, so the search for each starts where the last one ended.
func (s *scan) fields(into reflect.Value) error {
	next := 0
	return s.object(func(name []byte) error {
		field, at := find(into, string(name), next)
		if !field.IsValid() {
			return problem.New(problem.Invalid, "leave it out, or update the program", "this field is not known")
		}
		next = at + 1
		return s.value(field)
	})
}

// find looks for a field by its exact JSON name, from a field on and around.
func find(in reflect.Value, name string, from int) (field reflect.Value, at int) {
	t := in.Type()
	n := t.NumField()
	for i := range n {
		at := (from + i) % n
		f := t.Field(at)
		if f.Anonymous {
			if field, _ := find(in.Field(at), name, 0); field.IsValid() {
				return field, at - 1 // look into it again
			}
			continue
		}
		if tag, _ := jsonTag(f); tag == name && f.IsExported() {
			return in.Field(at), at
		}
	}
	return reflect.Value{}, 0
}

// jsonTag gives a field's name and option. The tags here are plain, and this is
// several times faster than the general reading of tags.
func jsonTag(f reflect.StructField) (name, option string) {
	_, tag, _ := strings.Cut(string(f.Tag), `json:"`)
	tag, _, _ = strings.Cut(tag, `"`)
	name, option, _ = strings.Cut(tag, ",")
	return name, option
}

// within puts the name of the enclosing member before an error's field.
func within(err error, name string) error {
	p, ok := problem.As(err)
	if !ok {
		return err
	}
	outer := *p
	outer.Field = name
	if p.Field != "" {
		outer.Field += "." + p.Field
	}
	return &outer
}

// named says in the sentence, too, which field an error is about.
func named(err error) error {
	p, ok := problem.As(err)
	if !ok || p.Field == "" {
		return err
	}
	full := *p
	if r := []rune(full.Field); len(r) > 80 {
		full.Field = string(r[:80]) + "…"
	}
	full.Text = full.Field + ": " + p.Text
	return &full
}

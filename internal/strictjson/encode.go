package strictjson

import (
	"math"
	"reflect"
	"strconv"
	"unicode/utf8"

	"packwright/internal/problem"
)

// Encode writes a value as compact JSON. A nil slice is an empty list, so that
// a list is never null on the other side.
func Encode(value any) ([]byte, error) {
	e := encoder{}
	e.value(reflect.ValueOf(value))
	return e.out, e.err
}

type encoder struct {
	out []byte
	err error
}

func (e *encoder) value(v reflect.Value) {
	if v.Type() == rawMessage {
		if e.out = append(e.out, v.Bytes()...); v.Len() == 0 {
			e.text("null")
		}
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			e.text("null")
		} else {
			e.value(v.Elem())
		}
	case reflect.Struct:
		e.text("{")
		e.fields(v)
		e.text("}")
	case reflect.Slice:
		e.text("[")
		for i := range v.Len() {
			if i > 0 {
				e.text(",")
			}
			e.value(v.Index(i))
		}
		e.text("]")
	case reflect.String:
		e.str(v.String())
	case reflect.Bool:
		e.out = strconv.AppendBool(e.out, v.Bool())
	case reflect.Int, reflect.Int64:
		e.out = strconv.AppendInt(e.out, v.Int(), 10)
	case reflect.Float64:
		e.number(v.Float())
	default:
		e.err = problem.New(problem.Unsupported, "", "a %s cannot be written as JSON", v.Type())
	}
}

// fields writes the members of a struct; those of an embedded one are its own.
func (e *encoder) fields(v reflect.Value) {
	t := v.Type()
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			e.fields(v.Field(i))
			continue
		}
		if !f.IsExported() { // the struct's own business
			continue
		}
		name, option := jsonTag(f)
		if option == "omitempty" && isEmpty(v.Field(i)) {
			continue
		}
		if e.out[len(e.out)-1] != '{' {
			e.text(",")
		}
		e.str(name)
		e.text(":")
		e.value(v.Field(i))
	}
}

// isEmpty is the rule of omitempty, as encoding/json has it.
func isEmpty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Pointer:
		return v.IsNil()
	case reflect.Slice, reflect.String:
		return v.Len() == 0
	case reflect.Bool:
		return !v.Bool()
	case reflect.Int, reflect.Int64:
		return v.Int() == 0
	case reflect.Float64:
		return v.Float() == 0
	}
	return false
}

// number writes a float64 as JavaScript does (ECMA-262, Number::toString).
func (e *encoder) number(f float64) {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		e.err = problem.New(problem.Unsupported, "", "%v cannot be written as JSON", f)
		return
	}
	format := byte('f')
	if size := math.Abs(f); size != 0 && (size < 1e-6 || size >= 1e21) {
		format = 'e'
	}
	e.out = strconv.AppendFloat(e.out, f, format, -1, 64)
	if n := len(e.out); format == 'e' && e.out[n-4] == 'e' && e.out[n-3] == '-' && e.out[n-2] == '0' {
		e.out = append(e.out[:n-2], e.out[n-1]) // e-09 is written e-9
	}
}

// str writes text as a JSON string, as it is but for what JSON demands.
func (e *encoder) str(text string) {
	const hex = "0123456789abcdef"
	e.text(`"`)
	for _, r := range text { // what is not UTF-8 comes out as U+FFFD
		switch {
		case r == '"' || r == '\\':
			e.out = append(e.out, '\\', byte(r))
		case r < ' ':
			e.out = append(e.out, '\\', 'u', '0', '0', hex[r>>4], hex[r&15])
		default:
			e.out = utf8.AppendRune(e.out, r)
		}
	}
	e.text(`"`)
}

// text writes s as it is.
//
//go:noinline
func (e *encoder) text(s string) { e.out = append(e.out, s...) }

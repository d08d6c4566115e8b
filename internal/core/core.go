// Package core is the narrow door through which a phone uses the domain.
//
// Use New once and then Session.Call: a name and JSON in, JSON out. The calls
// are listed in Session.table, their types in calls.go, and the TypeScript
// types made from them in webapp/src/core/types.ts; after a change to any type
// that crosses the door run go generate ./internal/core. A Session knows
// nothing of phones, keeps no files and reads no clock. It is not safe for use
// by several goroutines at once.
package core

//go:generate go run packwright/internal/core/gen

import (
	"reflect"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/logged"
	"packwright/internal/problem"
	"packwright/internal/season"
	"packwright/internal/strictjson"
)

// Internal marks a fault of the program itself.
const Internal problem.Kind = "internal"

// Session is what one phone knows: the entries it holds, folded, and its clock.
type Session struct {
	fleet  *fleet.Fleet
	season *season.Season
	clock  journal.Clock
	file   *logged.Analysis // the file that is being read, or nil
}

// New is a session without entries.
func New() *Session {
	f := fleet.New()
	return &Session{fleet: f, season: season.New(f)}
}

// table lists every call.
func (s *Session) table() []call {
	return []call{
		define("here", s.here),
		define("setup-check", s.setupCheck),
		define("open-check", s.openCheck),
		define("assess", s.assess),
		define("read-number", s.readNumber),
		define("new-code", s.newCode),
		define("read-code", s.readCode),
		define("make-entry", s.makeEntry),
		define("add-entries", s.addEntries),
		define("overview", s.overview),
		define("pack", s.pack),
		define("test", s.test),
		define("health", s.health),
		define("board", s.board),
		define("wiggle-check", s.wiggleCheck),
		define("run-check", s.runCheck),
		define("run-plan", s.runPlan),
		define("run-look", s.runLook),
		define("run-open", s.runOpen),
		define("run-write", s.runWrite),
		define("run-finish", s.runFinish),
		define("lead", s.lead),
		define("read-size", s.readSize),
		define("calendar", s.calendar),
		define("table", s.saveTable),
		define("import-look", s.importLook),
	}
}

// Call answers one call. Errors are always *problem.Error; a panic inside
// becomes one of kind Internal, so that a bad entry cannot end the program.
func (s *Session) Call(name string, request []byte) (answer []byte, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			answer, err = nil, internal(name, fault)
		}
	}()
	for _, c := range s.table() {
		if c.Name != name {
			continue
		}
		answer, err := c.run(request)
		if _, readable := problem.As(err); err != nil && !readable {
			return nil, internal(name, err)
		}
		return answer, err
	}
	return nil, problem.New(problem.Unsupported, "update the app", "there is no call %q", name)
}

func internal(name string, fault any) error {
	return problem.New(Internal, "this is a fault of the program: your entries are safe, export them and report it", "%s failed: %v", name, fault)
}

// Signature is a call's name with the types of its request and answer.
type Signature struct {
	Name            string
	Request, Answer reflect.Type
}

// Signatures lists all calls, for the generator of TypeScript types.
func Signatures() []Signature {
	var list []Signature
	for _, c := range New().table() {
		list = append(list, c.Signature)
	}
	return list
}

// call is one line of the table.
type call struct {
	Signature
	run func(request []byte) ([]byte, error)
}

// define makes a call from a function on pointers to the types of its request
// and answer. Pointers, because Go compiles generic code once for all of them.
func define[Request, Answer any](name string, f func(Request) (Answer, error)) call {
	requestType := reflect.TypeFor[Request]().Elem()
	run := func(raw []byte) ([]byte, error) {
		request := reflect.New(requestType).Interface().(Request)
		if err := strictjson.Decode(raw, request); err != nil {
			return nil, err
		}
		answer, err := f(request)
		if err != nil {
			return nil, err
		}
		return strictjson.Encode(answer)
	}
	return call{Signature{name, requestType, reflect.TypeFor[Answer]().Elem()}, run}
}

// bytesOf reads bytes that came as a list of numbers.
func bytesOf(field string, numbers []int) ([]byte, error) {
	bytes := make([]byte, len(numbers))
	for i, n := range numbers {
		if n < 0 || n > 255 {
			return nil, problem.Invalidf(field, "give numbers from 0 to 255", "%d is not a byte", n)
		}
		bytes[i] = byte(n)
	}
	return bytes, nil
}

package main

import (
	"slices"
	"strings"

	"packwright/internal/loadtest"
	"packwright/internal/measure"
	"packwright/internal/problem"
)

// The commands that calculate read their flags with these, so that each takes a
// unit and a mistake is answered in the same words.

// given is a flag with what was typed for it.
type given struct{ flag, text string }

// typed reads flag values and keeps the first problem.
type typed struct{ err error }

func (r *typed) fail(flag, hint, format string, args ...any) {
	if r.err == nil {
		r.err = problem.Invalidf(flag, hint, format, args...)
	}
}

// keep takes a problem over, with the flag it is about in front.
func (r *typed) keep(flag string, err error) {
	if p, ok := problem.As(err); ok {
		r.fail(flag, p.Hint, "--%s: %s", flag, p.Text)
	} else if err != nil {
		r.fail(flag, "", "--%s: %v", flag, err)
	}
}

// flagOf names the flag that a field of a test, of the limits, of a lead or of a
// logged run was typed with.
var flagOf = map[string]string{
	"open_v": "open", "loaded_v": "loaded", "load_ohm": "load", "current_a": "current",
	"loaded_1_v": "loaded-1", "load_1_ohm": "load-1", "loaded_2_v": "loaded-2", "load_2_ohm": "load-2",
	"load_tolerance_pct": "load-tolerance", "load_uncertainty_ohm": "load-uncertainty", "lead_ohm": "lead",
	"load_tempco_ppm_k": "load-tempco", "load_rise_k": "load-rise", "current_resolution_a": "current-resolution",
	"read_after_s": "read-after", "temperature_c": "temperature", "rested_min": "rested",
	"competition_ohm": "limit", "practice_ohm": "practice-limit",
	"cells": "cells", "rated_ah": "rating", "stop_v": "stop", "brownout_v": "brown-out", "volt_pct": "volt-accuracy",
	"amp_pct": "current-accuracy", "amp_zero_a": "current-zero", "peak_a": "peak", "copper_c": "copper-temperature", "pack_ohm": "pack",
}

// flagFor is flagOf, also for one of the parts of a lead, as in wires[0].size.
func flagFor(field string) string {
	list, _, indexed := strings.Cut(field, "[")
	switch {
	case !indexed:
		return flagOf[field]
	case strings.HasSuffix(field, ".fuse_a"):
		return "fuse"
	}
	return strings.TrimSuffix(list, "s")
}

// checked takes over what a check of the whole found, under the flag's name.
func (r *typed) checked(err error) {
	p, ok := problem.As(err)
	switch {
	case r.err != nil:
	case ok && flagFor(p.Field) != "":
		r.keep(flagFor(p.Field), err)
	default:
		r.err = err
	}
}

// one reads a single value; nil where the flag was not given.
func (r *typed) one(flag, text string, q measure.Quantity) *float64 {
	if text == "" {
		return nil
	}
	p, err := measure.Parse(text, q)
	r.keep(flag, err)
	return &p.Value
}

// plain reads a single value that no other place asks for.
func (r *typed) plain(flag, text string) *float64 { return r.one(flag, text, measure.Percent) }

// list reads one or more values. Readings of one quantity in one test lie close
// together; where they do not, a decimal comma was most likely read as two values.
// What is below zero is left to the checks of the test.
func (r *typed) list(flag, text string, q measure.Quantity) []float64 {
	if text == "" {
		return nil
	}
	values, err := measure.ParseList(text, q)
	r.keep(flag, err)
	if err == nil && len(values) > 1 && slices.Min(values) > 0 && slices.Max(values) > 1.5*slices.Min(values) {
		r.fail(flag, "commas stand between readings; write the decimal mark as a point: 12.84,12.83",
			"--%s: %q has readings from %s to %s", flag, text, measure.Show(slices.Min(values), ""), measure.Show(slices.Max(values), ""))
	}
	return values
}

func (r *typed) meter(flag, text string, resolution float64) loadtest.Meter {
	m, err := loadtest.ParseMeter(text, resolution)
	r.keep(flag, err)
	return m
}

// value is what p points to, or absent.
func value(p *float64, absent float64) float64 {
	if p == nil {
		return absent
	}
	return *p
}

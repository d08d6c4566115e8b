package labels

import "time"

// inTime tells times that can be dated.
func inTime(ms int64) bool { return ms >= 0 && ms <= 253402300799999 }

// datedTick is a place on an axis of time.
type datedTick struct {
	ms    int64
	words string
}

// ticksBetween gives at most so many dates between two moments: days, or first
// days of months.
func ticksBetween(fromMS, toMS int64, most int, zone *time.Location) []datedTick {
	from, to := time.UnixMilli(fromMS).In(zone), time.UnixMilli(toMS).In(zone)
	days := int(to.Sub(from).Hours()/24) + 1
	for _, step := range []int{1, 2, 5, 7, 14} {
		if days/step <= most {
			return tickDays(from, to, step)
		}
	}
	months := 12*(to.Year()-from.Year()) + int(to.Month()) - int(from.Month()) + 1
	for _, step := range []int{1, 2, 3, 6, 12, 24, 60, 120} {
		if months/step <= most {
			return tickMonths(from, to, step)
		}
	}
	return nil
}

func tickDays(from, to time.Time, step int) []datedTick {
	var list []datedTick
	for at := time.Date(from.Year(), from.Month(), from.Day()+1, 0, 0, 0, 0, from.Location()); !at.After(to); at = at.AddDate(0, 0, step) {
		list = append(list, datedTick{at.UnixMilli(), at.Format("2 Jan")})
	}
	return list
}

func tickMonths(from, to time.Time, step int) []datedTick {
	var list []datedTick
	at := time.Date(from.Year(), 1, 1, 0, 0, 0, 0, from.Location())
	for ; !at.After(to); at = at.AddDate(0, step, 0) {
		if !at.Before(from) {
			list = append(list, datedTick{at.UnixMilli(), at.Format("Jan 2006")})
		}
	}
	return list
}
